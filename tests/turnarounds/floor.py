"""Short cuts for tests of the floor's screens: people signed in, cleans under way."""

from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.test import Client

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.regimes.models import RegimeVersion, StepKind
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.progress import CleanProgress, progress_of
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from tests import clock
from tests.factories import (
    Cellar,
    acting,
    add_step,
    make_agent,
    make_peracetic,
    make_version,
    seen_well,
)


def signed_in(user: User | None) -> Client:
    client = Client()
    if user is not None:
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def counted(*models: Any) -> tuple[int, ...]:
    """How many rows there are of each, and of the ledger's: for "nothing was written"."""
    return (*(model.objects.count() for model in models), Entry.objects.count())


def errors(response: HttpResponse, name: str = "form") -> dict[str, list[str]]:
    """A form's messages by field."""
    found: dict[str, list[str]] = {k: list(v) for k, v in response.context[name].errors.items()}
    return found


def as_shown(form: Any, **typed: Any) -> dict[str, Any]:
    """What a form would send as it is shown, with what was typed into it."""
    shown = {name: form[name].value() for name in form.fields}
    return {name: "" if value is None else value for name, value in shown.items()} | typed


def caustic_version(**values: Any) -> RegimeVersion:
    """Pre-rinse, hot caustic with every kind of window, rinse to neutral, peracetic acid."""
    version = make_version(steps=False, **values)
    add_step(version, StepKind.PRE_RINSE, end_criterion="runs_clear")
    add_step(
        version,
        StepKind.CAUSTIC,
        agent=make_agent(hazards="Burns skin and eyes.", sds_reference="Green folder, page 4"),
        windows={
            "concentration": (1.5, 3.0),
            "temperature_c": (60, 85),
            "time_min": (20, 45),
            "flow_l_min": (120, None),
        },
    )
    add_step(version, StepKind.RINSE, end_criterion="neutral")
    add_step(
        version,
        StepKind.SANITISER,
        agent=make_peracetic(),
        windows={"concentration": (80, 200)},
        basis="mg_l",
    )
    return version


class Floor(Cellar):
    """A small brewery whose next clean is the one above, with its people signed in."""

    def __init__(self, **brewery: Any) -> None:
        super().__init__(**brewery)
        self.quick = self.version
        self.version = caustic_version(name="Fermenter, hot (invented)")
        self.client = signed_in(self.hand)
        self.lot.expires_on = clock.today() + timedelta(days=60)
        self.lot.save()

    def cleaned(self, **values: Any) -> Turnaround:
        """By the quick regime of two steps, which is done in 20 minutes."""
        usual, self.version = self.version, self.quick
        try:
            return super().cleaned(**values)
        finally:
            self.version = usual

    def progress(self, clean: Clean) -> CleanProgress:
        return progress_of(cleans_with_records().get(pk=clean.pk))

    def at_step(self, order: int, *, minutes_ago: float = 60) -> Clean:
        """A clean that has come to its step of this order, which is not started."""
        then = clock.now() - timedelta(minutes=minutes_ago)
        clean = self.started(self.emptied(now=then), now=then)
        for step in clean.version.steps.filter(order__lt=order).order_by("order"):
            self.run_step(clean, step.order, now=then)
        return clean

    def run_step(self, clean: Clean, order: int, *, now: Any, minutes: float = 0) -> StepRecord:
        record = self.running_step(clean, order, now=now)
        step = record.step
        values = {"concentration": 2, "temperature_c": 75, "flow_l_min": 150}
        for window in step.windows.exclude(quantity="time_min"):
            value = 150 if window.basis == "mg_l" else values[window.quantity]
            self.read(record, window.quantity, value, basis=window.basis, now=now)
        self.end_read(record, step, now=now)
        until = 30 if step.windows.filter(quantity="time_min").exists() else 5
        return step_actions.end_step(
            by=acting(self.hand, now=now + timedelta(minutes=minutes or until)),
            record=record,
            end_criterion_met=True if step.end_criterion else None,
            observations=seen_well(clean, step),
        )

    def running_step(self, clean: Clean, order: int, *, now: Any) -> StepRecord:
        return self.step_started(clean, clean.version.steps.get(order=order), now=now)

    def read(
        self, record: StepRecord, quantity: str, value: float, *, now: Any = None, **values: Any
    ) -> Any:
        return step_reading_actions.record_reading(
            by=acting(self.hand, now=now or clock.now()),
            record=record,
            quantity=quantity,
            value=value,
            **values,
        )

    def running_caustic(self, *, minutes_ago: float = 10) -> StepRecord:
        """The hot caustic step, running for some minutes, with nothing read yet."""
        clean = self.at_step(2, minutes_ago=minutes_ago + 10)
        return self.running_step(clean, 2, now=clock.now() - timedelta(minutes=minutes_ago))

"""A clean that was done while nobody could record it: bounded, stated, and marked for good."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.urls import reverse
from django.utils import timezone

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.release.gates import gates_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.afterwards.actions import enter_clean
from brewhygiene.turnarounds.models import Clean, StepReading, Turnaround
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.safety import required_codes
from brewhygiene.turnarounds.steps.times.stated import StatedReading
from tests import clock
from tests.factories import acting, seen_well
from tests.turnarounds.floor import Floor, counted, errors
from tests.turnarounds.steps.sending import words

pytestmark = pytest.mark.django_db

REASON = "The tablet was broken"
READINGS = (
    StatedReading("concentration", 2, "ww"),
    StatedReading("temperature_c", 75),
    StatedReading("flow_l_min", 150),
)


@pytest.fixture
def floor() -> Floor:
    return Floor()


@pytest.fixture
def emptied(floor: Floor) -> Turnaround:
    """Emptied three hours ago."""
    return floor.emptied(now=ago(180))


def ago(minutes: float) -> datetime:
    return clock.now() - timedelta(minutes=minutes)


def enter(floor: Floor, turnaround: Turnaround, *, begins: float = 170, **values: Any) -> Clean:
    return enter_clean(
        by=acting(floor.hand, now=clock.now()),
        turnaround=turnaround,
        version=floor.version,
        **{"started_at": ago(begins), "reason": REASON, **values},
    )


def state(
    floor: Floor, clean: Clean, order: int, *, begins: float, ends: float, **values: Any
) -> Any:
    by = acting(floor.hand, now=clock.now())
    item = floor.progress(clean).current
    assert item is not None
    assert item.step.order == order
    loaded = floor.progress(clean).clean
    if codes := required_codes(loaded, item.step):
        step_actions.acknowledge_safety(by=by, clean=clean, step=item.step, codes=codes)
    met = True if item.step.end_criterion else None
    return step_actions.state_step(
        by=by,
        clean=clean,
        step=item.step,
        **{
            "started_at": ago(begins),
            "ended_at": ago(ends),
            "end_criterion_met": met,
            "observations": seen_well(loaded, item.step),
            **values,
        },
    )


def all_steps(floor: Floor, clean: Clean) -> None:
    state(floor, clean, 1, begins=165, ends=160)
    state(floor, clean, 2, begins=155, ends=125, readings=READINGS)
    state(floor, clean, 3, begins=120, ends=110, readings=[StatedReading("ph", 7.2)])
    strong = [StatedReading("concentration", 150, "mg_l")]
    state(floor, clean, 4, begins=105, ends=95, readings=strong)


def test_it_is_marked_and_every_step_is_stated(floor: Floor, emptied: Turnaround) -> None:
    clean = enter(floor, emptied)
    all_steps(floor, clean)
    actions.finish_clean(by=acting(floor.hand, now=clock.now()), clean=clean)
    clean.refresh_from_db()
    assert (clean.started_at, clean.entered_at, clean.entered_by) == (
        ago(170),
        clock.now(),
        floor.hand,
    )
    # Its hold times run from when it was done, not from when it was entered.
    assert (clean.finished_at, clean.sanitised_at) == (ago(95), ago(95))
    assert set(StepReading.objects.values_list("source", flat=True)) == {"stated"}
    found = Deviation.objects.values_list("kind", "disposition", "reason")
    assert set(found) == {("stated", "accept", REASON)}
    assert found.count() == 9
    entry = Entry.objects.get(verb="enter clean afterwards")
    assert entry.values["entered_afterwards"] == REASON


def test_the_release_asks_for_an_explanation_and_names_the_mark(
    floor: Floor, emptied: Turnaround
) -> None:
    clean = enter(floor, emptied)
    all_steps(floor, clean)
    actions.finish_clean(by=acting(floor.hand, now=clock.now()), clean=clean)
    gates = {
        gate.code: gate
        for gate in gates_of(
            load_dossier(emptied, now=clock.now()),
            brewery=Brewery.current(),
            now=clock.now(),
            user=floor.brewer,
        )
    }
    assert gates["deviations"].answer == "explain"
    evidence, *_ = gates["cleaned"].evidence
    assert "Entered afterwards by Jonas Feld on" in evidence
    assert evidence.endswith(f": {REASON}")


def test_the_mark_is_on_its_page_and_where_it_is_decided(floor: Floor, emptied: Turnaround) -> None:
    clean = enter(floor, emptied)
    page = words(floor.client.get(reverse("turnarounds:clean", args=[clean.pk])))
    assert "Entered afterwards by Jonas Feld on" in page
    all_steps(floor, clean)
    actions.finish_clean(by=acting(floor.hand, now=clock.now()), clean=clean)
    floor.client.force_login(floor.brewer, backend="django.contrib.auth.backends.ModelBackend")
    page = words(floor.client.get(reverse("release:decide", args=[emptied.pk])))
    assert "Entered afterwards by Jonas Feld on" in page


@pytest.mark.parametrize(
    ("begins", "field", "code"),
    [(181.1, "started_at", "before_its_turn"), (-3, "started_at", "refused")],
)
def test_it_lies_between_emptying_and_now(
    floor: Floor, emptied: Turnaround, begins: float, field: str, code: str
) -> None:
    with pytest.raises(Refusal) as refused:
        enter(floor, emptied, begins=begins)
    assert (refused.value.field, refused.value.code) == (field, code)
    assert Clean.objects.count() == 0


def test_it_does_not_overlap_a_clean_of_its_turnaround(floor: Floor, emptied: Turnaround) -> None:
    first = floor.started(emptied, now=ago(100))
    actions.stop_clean(by=acting(floor.hand, now=ago(60)), clean=first, reason="Pump seal gone")
    with pytest.raises(Refusal) as refused:
        enter(floor, emptied, begins=61.1)
    assert refused.value.code == "before_its_turn"
    assert enter(floor, emptied, begins=60).started_at == ago(60)


def test_it_needs_a_reason(floor: Floor, emptied: Turnaround) -> None:
    with pytest.raises(Refusal) as refused:
        enter(floor, emptied, reason="  ")
    assert refused.value.field == "entered_reason"


def test_its_steps_have_no_timer(floor: Floor, emptied: Turnaround) -> None:
    clean = enter(floor, emptied)
    with pytest.raises(Refusal) as refused:
        step_actions.start_step(
            by=acting(floor.hand, now=clock.now()),
            clean=clean,
            step=clean.version.steps.get(order=1),
        )
    assert refused.value.code == "entered_afterwards"


def test_readings_are_stated_only_in_such_a_clean(floor: Floor) -> None:
    clean = floor.at_step(2, minutes_ago=60)
    with pytest.raises(Refusal) as refused:
        state(floor, clean, 2, begins=50, ends=20, readings=READINGS)
    assert refused.value.code == "readings_not_stated"


def test_a_yes_that_its_stated_reading_contradicts_is_refused(
    floor: Floor, emptied: Turnaround
) -> None:
    clean = enter(floor, emptied)
    state(floor, clean, 1, begins=165, ends=160)
    state(floor, clean, 2, begins=155, ends=125, readings=READINGS)
    before = counted(StepReading)
    with pytest.raises(Refusal) as refused:
        state(floor, clean, 3, begins=120, ends=110, readings=[StatedReading("ph", 11.3)])
    assert refused.value.code == "end_contradicted"
    assert counted(StepReading)[0] == before[0]


def test_a_weak_reading_is_decided_by_itself(floor: Floor, emptied: Turnaround) -> None:
    """The reason why it was entered late is no reason for a weak solution."""
    clean = enter(floor, emptied)
    state(floor, clean, 1, begins=165, ends=160)
    weak = [StatedReading("concentration", 1, "ww"), *READINGS[1:]]
    state(floor, clean, 2, begins=155, ends=125, readings=weak)
    assert [d.kind for d in Deviation.objects.filter(disposition="")] == ["below"]


def test_the_pages_lead_from_the_choice_of_regime_to_each_step(
    floor: Floor, emptied: Turnaround
) -> None:
    there = reverse("turnarounds:enter_clean", args=[emptied.pk])
    regimes = reverse("turnarounds:regime", args=[emptied.pk])
    assert there in floor.client.get(regimes).content.decode()
    answer = floor.client.post(there, {"version": floor.version.pk, "entered_reason": REASON})
    assert answer.status_code == 422
    assert errors(answer) == {"started_at": ["Enter when the clean started."]}
    began = timezone.localtime(ago(170)).strftime("%Y-%m-%dT%H:%M")
    data = {"version": floor.version.pk, "entered_reason": REASON, "started_at": began}
    step = floor.client.post(there, data).headers["Location"]
    clean = Clean.objects.get()
    assert step == reverse("turnarounds:step", args=[clean.pk, clean.version.steps.get(order=1).pk])
    page = floor.client.get(step).content.decode()
    assert "Enter step" in page
    assert "Start step" not in page
    state(floor, clean, 1, begins=165, ends=160)
    caustic = clean.version.steps.get(order=2)
    loaded = floor.progress(clean).clean
    step_actions.acknowledge_safety(
        by=acting(floor.hand, now=clock.now()),
        clean=clean,
        step=caustic,
        codes=required_codes(loaded, caustic),
    )
    begin, end = (
        timezone.localtime(ago(minutes)).strftime("%Y-%m-%dT%H:%M") for minutes in (155, 125)
    )
    stated = {"stated_concentration": "2", "stated_temperature_c": "75", "stated_flow_l_min": ""}
    floor.client.post(
        reverse("turnarounds:state_step", args=[clean.pk, caustic.pk]),
        {"started_at": begin, "ended_at": end, **stated},
    )
    kept = StepReading.objects.filter(record__step=caustic).values_list("quantity", "value")
    assert set(kept) == {("concentration", 2), ("temperature_c", 75), ("time_min", 30)}
    assert [d.description for d in Deviation.objects.filter(disposition="")] == [
        "Flow was not read"
    ]

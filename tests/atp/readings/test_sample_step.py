"""Samples at the sample step of a running clean."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings.due import to_sample
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from tests.factories import (
    NOW,
    Cellar,
    acting,
    add_step,
    make_limits,
    make_peracetic,
    make_version,
    seen_well,
)

LATER = NOW + timedelta(minutes=5)


class AtTheStep(Cellar):
    """A clean with a sample step between its rinse and its sanitiser."""

    def __init__(self, *, points: int = 1) -> None:
        super().__init__(points=points)
        self.vessel.points.update(moment="before_sanitiser")
        self.version = make_version(steps=False)
        add_step(self.version, StepKind.RINSE)
        add_step(self.version, StepKind.SAMPLE, windows={"temperature_c": (None, 30)})
        add_step(
            self.version,
            StepKind.SANITISER,
            agent=make_peracetic(),
            windows={"concentration": (80, 200)},
            basis="mg_l",
        )
        self.at_step = make_limits(
            by=self.brewer, meter=self.meter, atp_test=self.atp_test, moment="before_sanitiser"
        )

    def step(self, kind: str) -> Step:
        return self.version.steps.get(kind=kind)

    def rinsed(self) -> tuple[Turnaround, Clean]:
        turnaround = self.emptied()
        self.checked()
        clean = self.started(turnaround)
        record = self.step_started(clean, self.step("rinse"))
        step_actions.end_step(
            by=acting(self.hand, now=NOW),
            record=record,
            observations=seen_well(clean, self.step("rinse")),
        )
        return turnaround, clean

    def at_sample_step(self, celsius: float | None = 18) -> tuple[Turnaround, StepRecord]:
        turnaround, clean = self.rinsed()
        record = self.step_started(clean, self.step("sample"))
        if celsius is not None:
            self.cooled(record, celsius)
        return turnaround, record

    def cooled(self, record: StepRecord, celsius: float) -> None:
        step_reading_actions.record_reading(
            by=acting(self.hand, now=NOW), record=record, quantity="temperature_c", value=celsius
        )

    def read(self, turnaround: Turnaround, **values: Any) -> Result:
        return self.sampled(turnaround, **{"rinse_end": "tap", "now": LATER, **values})


@pytest.fixture
def cellar(db: None) -> AtTheStep:
    return AtTheStep()


def refusal(cellar: AtTheStep, turnaround: Turnaround, **values: Any) -> tuple[str | None, str]:
    with pytest.raises(Refusal) as refused:
        cellar.read(turnaround, **values)
    return refused.value.field, refused.value.code


def test_a_sample_is_read_while_the_sample_step_runs(cellar: AtTheStep) -> None:
    turnaround, record = cellar.at_sample_step()
    result = cellar.read(turnaround, rlu=3)
    assert (result.clean, result.moment, result.verdict) == (
        record.clean,
        "before_sanitiser",
        "clear",
    )
    assert result.limits == cellar.at_step


@pytest.mark.parametrize(("celsius", "read"), [(30, True), (30.1, False)])
def test_a_warm_rinse_is_not_sampled(cellar: AtTheStep, celsius: float, read: bool) -> None:
    turnaround, record = cellar.at_sample_step(celsius)
    if not read:
        assert refusal(cellar, turnaround) == ("taken_at", "rinse_too_warm")
        cellar.cooled(record, 24)
    assert cellar.read(turnaround).moment == "before_sanitiser"


def test_the_temperature_is_read_first(cellar: AtTheStep) -> None:
    turnaround, _ = cellar.at_sample_step(celsius=None)
    assert refusal(cellar, turnaround) == ("taken_at", "rinse_not_read")


def test_a_step_that_asks_for_no_temperature_is_sampled_at_once(cellar: AtTheStep) -> None:
    cellar.step("sample").windows.all().delete()
    turnaround, _ = cellar.at_sample_step(celsius=None)
    assert cellar.read(turnaround).moment == "before_sanitiser"


def test_no_sample_before_the_step_or_after_it_while_the_clean_runs(cellar: AtTheStep) -> None:
    turnaround, clean = cellar.rinsed()
    assert refusal(cellar, turnaround) == ("taken_at", "clean_running")
    record = cellar.step_started(clean, cellar.step("sample"))
    cellar.cooled(record, 18)
    cellar.read(turnaround)
    step_actions.end_step(by=acting(cellar.hand, now=LATER), record=record)
    assert refusal(cellar, turnaround) == ("taken_at", "clean_running")


def test_no_sample_is_older_than_the_step(cellar: AtTheStep) -> None:
    turnaround, record = cellar.at_sample_step()
    early = record.started_at - timedelta(minutes=1)
    assert refusal(cellar, turnaround, taken_at=early) == ("taken_at", "before_clean_ended")


def test_a_sample_after_the_clean_is_taken_in_its_sanitiser_and_not_judged(
    cellar: AtTheStep,
) -> None:
    turnaround = cellar.cleaned()
    make_limits(
        by=cellar.brewer, meter=cellar.meter, atp_test=cellar.atp_test, moment="after_sanitiser"
    )
    result = cellar.read(turnaround, rinse_end="sanitiser_left", now=NOW + timedelta(hours=1))
    assert (result.moment, result.limits) == ("in_sanitiser", cellar.limits)


@pytest.mark.parametrize("moment", ["before_heat", "rinse_proved", "after_sanitiser"])
def test_limits_of_another_moment_do_not_judge(cellar: AtTheStep, moment: str) -> None:
    with_other = make_limits(
        by=cellar.brewer,
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        moment=moment,
        point=cellar.point,
    )
    turnaround, _ = cellar.at_sample_step()
    assert cellar.read(turnaround).limits == cellar.at_step != with_other


def test_points_of_the_moment_are_due_and_others_are_not(cellar: AtTheStep) -> None:
    turnaround, _ = cellar.at_sample_step()
    due = to_sample(turnaround)
    point = cellar.point
    found = {}
    for moment in ("before_sanitiser", "before_heat", "rinse_proved", "in_sanitiser", "unknown"):
        point.moment = moment
        found[moment] = due.is_for(point)
    assert found == {
        "before_sanitiser": True,
        "before_heat": True,
        "rinse_proved": False,
        "in_sanitiser": False,
        "unknown": True,
    }
    assert due.step == cellar.step("sample")


def test_the_step_leads_to_the_samples_and_back(cellar: AtTheStep, client: Client) -> None:
    turnaround, record = cellar.at_sample_step(celsius=None)
    client.force_login(cellar.hand)
    samples = reverse("atp:samples", args=[turnaround.pk])
    step = reverse("turnarounds:step", args=[record.clean_id, record.step_id])
    before = client.get(samples).content.decode()
    assert step in before
    assert "not read yet" in before
    assert samples not in client.get(step).content.decode()
    cellar.cooled(record, 18)
    assert samples in client.get(step).content.decode()
    point = reverse("atp:sample", args=[turnaround.pk, cellar.point.pk])
    assert point in client.get(samples).content.decode()
    assert "Last rinse, before the sanitiser" in client.get(point).content.decode()
    result = cellar.read(turnaround)
    shown = client.get(reverse("atp:reading", args=[result.pk])).content.decode()
    end = reverse("turnarounds:end_step", args=[record.clean_id, record.step_id])
    assert end in shown
    assert "Last rinse, before the sanitiser, by the steps of the clean" in shown
    assert "at another moment" not in shown


def test_a_point_sampled_at_another_moment_says_so(cellar: AtTheStep, client: Client) -> None:
    turnaround = cellar.cleaned()
    client.force_login(cellar.hand)
    page = client.get(reverse("atp:sample", args=[turnaround.pk, cellar.point.pk]))
    assert "This sampling point is sampled at another moment: last rinse" in page.content.decode()
    result = cellar.read(turnaround, rinse_end="tap", now=NOW + timedelta(hours=1))
    shown = client.get(reverse("atp:reading", args=[result.pk])).content.decode()
    assert "This sampling point is sampled at another moment: last rinse" in shown

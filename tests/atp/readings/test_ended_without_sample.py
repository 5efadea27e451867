"""A sample step that ends without its samples, and a sample that is taken after it."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.cellar.moments import SamplingMoment, taken_late
from brewhygiene.regimes.models import StepKind
from brewhygiene.release.evidence import samples_of
from brewhygiene.release.gates import Gate, gates_of
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.actions import finish_clean
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import Clean, StepRecord, Turnaround
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.readings import actions as step_reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.closing import name_what_is_missing
from tests import clock
from tests.atp.readings.test_sample_step import LATER, AtTheStep
from tests.factories import NOW, acting, seen_well


@pytest.fixture
def cellar(db: None) -> AtTheStep:
    return AtTheStep(points=2)


def ended(cellar: AtTheStep, record: StepRecord) -> list[str]:
    """Ends the sample step; what deviations it leaves."""
    step_actions.end_step(by=acting(cellar.hand, now=LATER), record=record)
    return [f"{one.kind}: {one.description}" for one in Deviation.objects.filter(record=record)]


def point(cellar: AtTheStep, number: int) -> SamplingPoint:
    return cellar.vessel.points.order_by("order")[number]


def both(cellar: AtTheStep) -> str:
    return f"{point(cellar, 0).name}, {point(cellar, 1).name}"


def test_it_is_a_deviation_that_names_each_required_point(cellar: AtTheStep) -> None:
    _, record = cellar.at_sample_step()
    assert ended(cellar, record) == [
        f"not_sampled: The step ended without a sample: {both(cellar)}"
    ]


def test_what_was_sampled_is_not_named(cellar: AtTheStep) -> None:
    turnaround, record = cellar.at_sample_step()
    cellar.read(turnaround, point=point(cellar, 0))
    assert ended(cellar, record) == [
        f"not_sampled: The step ended without a sample: {point(cellar, 1).name}"
    ]


def test_where_all_were_sampled_nothing_is_said(cellar: AtTheStep) -> None:
    turnaround, record = cellar.at_sample_step()
    for number in (0, 1):
        cellar.read(turnaround, point=point(cellar, number))
    assert ended(cellar, record) == []


@pytest.mark.parametrize(
    ("change", "asked"),
    [
        ({"required_for_release": False}, False),
        ({"active": False}, False),
        ({"moment": "after_sanitiser"}, False),
        ({"moment": "before_heat"}, True),
        ({"moment": "unknown"}, True),
    ],
)
def test_only_required_points_of_its_moment_are_asked_for(
    cellar: AtTheStep, change: dict[str, Any], asked: bool
) -> None:
    SamplingPoint.objects.filter(pk=point(cellar, 1).pk).update(**change)
    turnaround, record = cellar.at_sample_step()
    cellar.read(turnaround, point=point(cellar, 0))
    assert bool(ended(cellar, record)) is asked


def test_a_reading_of_an_earlier_clean_does_not_count(cellar: AtTheStep) -> None:
    turnaround, record = cellar.at_sample_step()
    for number in (0, 1):
        cellar.read(turnaround, point=point(cellar, number))
    step_actions.end_step(by=acting(cellar.hand, now=LATER), record=record)
    Clean.objects.filter(pk=record.clean_id).update(stopped_at=LATER, stop_reason="Pump")
    again = cellar.started(turnaround, now=LATER)
    rinse = cellar.step_started(again, cellar.step("rinse"), now=LATER)
    _end(cellar, rinse)
    second = cellar.step_started(again, cellar.step("sample"), now=LATER)
    cellar.cooled(second, 18)
    assert ended(cellar, second) == [
        f"not_sampled: The step ended without a sample: {both(cellar)}"
    ]


def _end(cellar: AtTheStep, record: StepRecord) -> None:
    step_actions.end_step(
        by=acting(cellar.hand, now=LATER),
        record=record,
        observations=seen_well(record.clean, record.step),
    )


@pytest.mark.parametrize(("purpose", "asked"), [("clean", True), ("sanitise", False)])
def test_sanitising_before_filling_asks_for_no_sample(
    cellar: AtTheStep, purpose: str, asked: bool
) -> None:
    _, record = cellar.at_sample_step()
    record.clean.purpose = purpose
    name_what_is_missing(record, drain="", by=acting(cellar.hand, now=LATER))
    assert Deviation.objects.filter(kind="not_sampled").exists() is asked


def test_another_step_asks_for_no_sample(cellar: AtTheStep) -> None:
    _, clean = cellar.rinsed()
    assert not Deviation.objects.filter(record__clean=clean).exists()


def taken_after(cellar: AtTheStep) -> Turnaround:
    """The sample step is ended without a sample, accepted, and both points are read at the end."""
    turnaround, record = cellar.at_sample_step()
    step_actions.end_step(by=acting(cellar.hand, now=NOW), record=record)
    deviation_actions.dispose_deviation(
        by=acting(cellar.hand, now=NOW),
        deviation=Deviation.objects.get(record=record),
        disposition="accept",
        reason="The meter was at the other site",
    )
    run_sanitiser(cellar, record.clean)
    for number in (0, 1):
        cellar.read(
            turnaround,
            point=point(cellar, number),
            rinse_end="sanitiser_left",
            now=NOW + timedelta(minutes=20),
        )
    return turnaround


def run_sanitiser(cellar: AtTheStep, clean: Clean) -> None:
    """The last step, and the end of the clean."""
    last = cellar.step_started(clean, cellar.step("sanitiser"))
    _dose(cellar, last)
    _end(cellar, last)
    finish_clean(by=acting(cellar.hand, now=LATER), clean=clean)


def _dose(cellar: AtTheStep, record: StepRecord) -> None:
    step_reading_actions.record_reading(
        by=acting(cellar.hand, now=NOW),
        record=record,
        quantity="concentration",
        value=120,
        basis="mg_l",
    )


def gate(cellar: AtTheStep, turnaround: Turnaround, code: str) -> Gate:
    now = NOW + timedelta(minutes=30)
    found = gates_of(
        load_dossier(turnaround, now=now),
        brewery=Brewery.current(),
        now=now,
        user=cellar.brewer,
    )
    return next(one for one in found if one.code == code)


def test_an_accepted_one_is_explained_at_the_release(cellar: AtTheStep) -> None:
    found = gate(cellar, taken_after(cellar), "deviations")
    assert found.answer == "explain"
    assert found.evidence == (
        (
            f"The step ended without a sample: {both(cellar)}: accept with a reason, "
            f"The meter was at the other site ({cellar.hand})"
        ),
    )


def test_a_sample_taken_after_its_step_is_called_late(cellar: AtTheStep, client: Client) -> None:
    turnaround = taken_after(cellar)
    late = "late, after its sample step, taken in the sanitiser"
    evidence = gate(cellar, turnaround, "sampled").evidence
    assert [one.endswith(late) for one in evidence] == [True, True]
    dossier = load_dossier(turnaround, now=clock.now())
    assert [", late, taken in the sanitiser, " in one.about for one in samples_of(dossier)] == [
        True,
        True,
    ]


def test_one_taken_at_its_step_is_not(cellar: AtTheStep) -> None:
    turnaround, record = cellar.at_sample_step()
    cellar.read(turnaround)
    dossier = load_dossier(turnaround, now=LATER)
    assert not dossier.taken_late(dossier.results[0])
    assert record.step.kind == StepKind.SAMPLE


def test_without_a_sample_step_nothing_is_late(cellar: AtTheStep) -> None:
    turnaround = taken_after(cellar)
    cellar.version.steps.filter(kind="sample").update(kind="rinse")
    dossier = load_dossier(turnaround, now=LATER)
    assert not dossier.taken_late(dossier.results[0])


def test_the_decision_and_the_record_say_that_it_is_late(cellar: AtTheStep, client: Client) -> None:
    turnaround = taken_after(cellar)
    client.force_login(cellar.brewer)
    page = client.get(reverse("release:decide", args=[turnaround.pk])).content.decode()
    assert "late, after its sample step, taken in the sanitiser" in page


@pytest.mark.parametrize("meant", SamplingMoment.values)
@pytest.mark.parametrize("taken", SamplingMoment.values)
def test_late_is_after_the_sanitiser_where_it_was_meant_before(meant: str, taken: str) -> None:
    before = ("before_sanitiser", "before_heat")
    after = ("in_sanitiser", "after_sanitiser")
    assert taken_late(meant, taken) is (meant in before and taken in after)

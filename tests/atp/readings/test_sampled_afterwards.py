"""The samples that an ended sample step still owes, taken before the next step begins."""

from datetime import timedelta

import pytest
from django.urls import reverse

from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.readings.due import to_sample
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.deviations.actions import dispose_deviation
from brewhygiene.turnarounds.models import StepRecord, Turnaround
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.steps import actions as step_actions
from tests.atp.readings.test_ended_without_sample import gate, run_sanitiser
from tests.atp.readings.test_sample_step import LATER, AtTheStep
from tests.factories import acting
from tests.turnarounds.floor import signed_in

AT_LAST = LATER + timedelta(minutes=5)


@pytest.fixture
def cellar(db: None) -> AtTheStep:
    return AtTheStep(points=2)


def point(cellar: AtTheStep, number: int) -> SamplingPoint:
    return cellar.vessel.points.order_by("order")[number]


def owed(cellar: AtTheStep) -> tuple[Turnaround, StepRecord]:
    """The sample step has ended without a sample, and nothing was decided."""
    turnaround, record = cellar.at_sample_step()
    step_actions.end_step(by=acting(cellar.hand, now=LATER), record=record)
    return turnaround, record


def read(cellar: AtTheStep, turnaround: Turnaround, number: int) -> Result:
    return cellar.read(turnaround, point=point(cellar, number), now=AT_LAST)


def missed(record: StepRecord) -> Deviation:
    return Deviation.objects.get(record=record, kind="not_sampled")


def state(cellar: AtTheStep, record: StepRecord) -> str:
    return (
        progress_of(cleans_with_records().get(pk=record.clean_id)).of(cellar.step("sample")).state
    )


def test_they_are_of_the_moment_of_the_step(cellar: AtTheStep) -> None:
    turnaround, record = owed(cellar)
    due = to_sample(turnaround)
    assert (due.clean, due.missed, due.step) == (record.clean, record, record.step)
    assert (due.moment, due.since, due.not_now) == ("before_sanitiser", record.started_at, None)
    result = read(cellar, turnaround, 0)
    assert (result.clean, result.moment, result.limits) == (
        record.clean,
        "before_sanitiser",
        cellar.at_step,
    )


def test_the_last_of_them_settles_the_deviation(cellar: AtTheStep) -> None:
    turnaround, record = owed(cellar)
    read(cellar, turnaround, 0)
    assert (missed(record).disposition, state(cellar, record)) == ("", "deviation")
    read(cellar, turnaround, 1)
    found = missed(record)
    assert (found.disposition, found.disposed_by, found.disposed_at) == (
        "sampled",
        cellar.hand,
        AT_LAST,
    )
    assert found.decided_words == "sampled later"
    assert state(cellar, record) == "done"
    told = [
        entry.values.get("settles")
        for entry in Entry.objects.filter(verb="record result").order_by("pk")
    ]
    assert told == [None, [found.description]]


def test_then_the_release_needs_no_explanation_of_it(cellar: AtTheStep) -> None:
    turnaround, record = owed(cellar)
    for number in (0, 1):
        read(cellar, turnaround, number)
    run_sanitiser(cellar, record.clean)
    found = gate(cellar, turnaround, "deviations")
    words = f"{missed(record).description}: sampled later ({cellar.hand})"
    assert (found.answer, found.evidence) == ("yes", (words,))
    late = gate(cellar, turnaround, "sampled").evidence
    assert [one for one in late if "late" in one] == []


def test_once_decided_it_is_sampled_no_more_before_the_clean_has_ended(cellar: AtTheStep) -> None:
    turnaround, record = owed(cellar)
    dispose_deviation(
        by=acting(cellar.hand, now=LATER),
        deviation=missed(record),
        disposition="accept",
        reason="The meter was at the other site",
    )
    assert to_sample(turnaround).missed is None
    with pytest.raises(Refusal) as refused:
        read(cellar, turnaround, 0)
    assert refused.value.code == "clean_running"


def test_a_step_whose_samples_were_taken_owes_none(cellar: AtTheStep) -> None:
    turnaround, record = cellar.at_sample_step()
    for number in (0, 1):
        cellar.read(turnaround, point=point(cellar, number))
    assert to_sample(turnaround).missed is None
    step_actions.end_step(by=acting(cellar.hand, now=LATER), record=record)
    with pytest.raises(Refusal) as refused:
        read(cellar, turnaround, 0)
    assert refused.value.code == "clean_running"


def test_another_deviation_of_the_step_stays_open(cellar: AtTheStep) -> None:
    turnaround, record = owed(cellar)
    other = Deviation.objects.create(
        record=record, kind="forgotten", description="Timer forgotten", found_at=LATER
    )
    for number in (0, 1):
        read(cellar, turnaround, number)
    other.refresh_from_db()
    assert (missed(record).disposition, other.disposition) == ("sampled", "")


def test_the_deviation_leads_to_the_samples_and_these_back_to_the_clean(
    cellar: AtTheStep,
) -> None:
    turnaround, record = owed(cellar)
    client = signed_in(cellar.hand)
    samples = reverse("atp:samples", args=[turnaround.pk])
    step = reverse("turnarounds:step", args=[record.clean_id, record.step_id])
    assert f'href="{samples}">Take samples</a>' in client.get(step).content.decode()
    page = client.get(samples).content.decode()
    assert "The sample step has ended without its samples." in page
    assert f"Sample {point(cellar, 0).name}" in page
    read(cellar, turnaround, 0)
    last = read(cellar, turnaround, 1)
    assert "has ended without its samples" not in client.get(samples).content.decode()
    back = reverse("turnarounds:clean", args=[record.clean_id])
    after = client.get(reverse("atp:reading", args=[last.pk])).content.decode()
    assert f'href="{back}">Continue the clean</a>' in after


def test_another_deviation_does_not_offer_samples(cellar: AtTheStep) -> None:
    turnaround, record = cellar.at_sample_step()
    for number in (0, 1):
        cellar.read(turnaround, point=point(cellar, number))
    step_actions.end_step(by=acting(cellar.hand, now=LATER), record=record)
    Deviation.objects.create(
        record=record, kind="forgotten", description="Timer forgotten", found_at=LATER
    )
    step = reverse("turnarounds:step", args=[record.clean_id, record.step_id])
    page = signed_in(cellar.hand).get(step).content.decode()
    assert "Timer forgotten" in page
    assert "Take samples" not in page

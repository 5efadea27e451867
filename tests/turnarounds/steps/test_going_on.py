"""One tap at the end of a step: what a reading shows is not asked, and what is next begins."""

from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from tests import clock
from tests.factories import add_step, make_version
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import send, url, words

pytestmark = pytest.mark.django_db


def clean_of(floor: Floor, *steps: tuple[str, str], minutes_ago: float = 5) -> StepRecord:
    """The first step of a clean of these kinds and ends, running for some minutes."""
    floor.version = make_version(steps=False)
    for kind, end_criterion in steps:
        add_step(floor.version, kind, end_criterion=end_criterion)
    then = clock.now() - timedelta(minutes=minutes_ago)
    clean = floor.started(floor.emptied(now=then), now=then)
    return floor.running_step(clean, 1, now=then)


def end_then(floor: Floor, record: StepRecord, then: str, **values: Any) -> HttpResponse:
    return floor.client.post(
        f"{url('end_step', record)}?then={then}", {"record": record.pk, **values}
    )


RINSES = (
    (StepKind.PRE_RINSE, "runs_clear"),
    (StepKind.RINSE, "neutral"),
    (StepKind.DRAIN, "drained"),
)
WELL = {"looks_clean": "yes", "smells_clean": "yes"}


@pytest.mark.parametrize(("ph", "asks"), [("6", False), ("8", False), ("8.1", True)])
def test_end_that_a_reading_shows_is_not_asked(floor: Floor, ph: str, asks: bool) -> None:
    record = clean_of(floor, *RINSES[1:])
    send(floor, record, "ph", ph)
    page = floor.client.get(url("step", record))
    shown = "End reached: pH of the rinse 6 to 8. pH" in words(page)
    assert ("end_criterion_met" in page.context["end_form"].fields, shown) == (asks, not asks)
    if not asks:
        assert end_then(floor, record, "", **WELL).status_code == 302
        record.refresh_from_db()
        assert record.end_criterion_met is True


def test_reading_that_was_corrected_meanwhile_asks_again(floor: Floor) -> None:
    record = clean_of(floor, *RINSES[1:])
    send(floor, record, "ph", "7")
    assert (
        "end_criterion_met" not in floor.client.get(url("step", record)).context["end_form"].fields
    )
    send(floor, record, "ph", "11.3")
    answer = end_then(floor, record, "start", **WELL)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["end_criterion_met"]
    record.refresh_from_db()
    assert record.ended_at is None


def test_tank_that_drains_free_is_asked_for_once(floor: Floor) -> None:
    record = clean_of(floor, (StepKind.DRAIN, "drained"), (StepKind.RINSE, "neutral"))
    form = floor.client.get(url("step", record)).context["end_form"]
    assert form.question.name == "drains_free"
    assert form.question.label == "Drains free, nothing left running from the outlet"
    end_then(floor, record, "", drains_free="yes")
    record.refresh_from_db()
    assert record.end_criterion_met is True
    assert [kept["yes"] for kept in record.observations] == [True]


def test_tank_that_does_not_drain_has_not_reached_the_end_either(floor: Floor) -> None:
    record = clean_of(floor, (StepKind.DRAIN, "drained"), (StepKind.RINSE, "neutral"))
    assert end_then(floor, record, "", drains_free="").status_code == 422
    end_then(floor, record, "", drains_free="no", drains_free_note="A puddle")
    record.refresh_from_db()
    assert record.end_criterion_met is False
    assert set(Deviation.objects.values_list("kind", flat=True)) == {"end_not_met", "observed"}


def test_next_step_starts_with_the_end_of_this_one(floor: Floor) -> None:
    record = clean_of(floor, *RINSES)
    page = words(floor.client.get(url("step", record)))
    assert "Yes, end step and start rinse</button>" in page
    answer = end_then(floor, record, "start", end_criterion_met="yes")
    started = StepRecord.objects.exclude(pk=record.pk).get()
    assert answer.headers["Location"] == url("step", started)
    assert (started.step.kind, started.started_at) == (StepKind.RINSE, clock.now())


def test_nothing_starts_unless_it_was_asked_for(floor: Floor) -> None:
    record = clean_of(floor, *RINSES)
    end_then(floor, record, "", end_criterion_met="yes")
    assert StepRecord.objects.count() == 1


def test_nothing_starts_before_a_deviation_is_decided(floor: Floor) -> None:
    record = clean_of(floor, *RINSES)
    answer = end_then(floor, record, "start", end_criterion_met="no")
    assert answer.headers["Location"] == url("step", record)
    assert StepRecord.objects.count() == 1
    page = floor.client.get(url("step", record))
    assert page.context["deviation"].kind == "end_not_met"
    assert not list(page.context["messages"])


def test_step_with_checks_is_not_started_by_another_ones_end(floor: Floor) -> None:
    record = floor.running_step(
        floor.at_step(1, minutes_ago=30), 1, now=clock.now() - timedelta(minutes=5)
    )
    page = words(floor.client.get(url("step", record)))
    assert "and start" not in page
    end_then(floor, record, "start", end_criterion_met="yes")
    assert StepRecord.objects.count() == 1


def test_last_step_finishes_the_clean_and_leads_to_the_samples(floor: Floor) -> None:
    record = clean_of(floor, (StepKind.DRAIN, "drained"))
    assert "Yes, end step and finish clean" in words(floor.client.get(url("step", record)))
    answer = end_then(floor, record, "finish", drains_free="yes")
    clean = Clean.objects.get()
    assert clean.finished_at == clock.now()
    assert answer.headers["Location"] == reverse("atp:samples", args=[clean.turnaround_id])


def test_clean_with_a_deviation_is_looked_over_before_it_is_finished(floor: Floor) -> None:
    record = clean_of(floor, (StepKind.DRAIN, "drained"))
    Deviation.objects.create(
        record=record, kind="observed", description="Smelt", found_at=clock.now()
    ).decide("accept", reason="Looked at", at=clock.now(), by=floor.hand)
    assert "finish clean" not in words(floor.client.get(url("step", record)))
    answer = end_then(floor, record, "finish", drains_free="yes")
    assert Clean.objects.get().finished_at is None
    assert answer.headers["Location"] == reverse("turnarounds:finish", args=[record.clean_id])


def test_form_sent_twice_ends_once_and_starts_once(floor: Floor) -> None:
    record = clean_of(floor, *RINSES)
    for _ in range(2):
        end_then(floor, record, "start", end_criterion_met="yes", key="k" * 64)
    assert StepRecord.objects.count() == 2
    made = Entry.objects.filter(verb__in=["end step", "start step"])
    assert sorted(made.values_list("verb", flat=True)) == ["end step", "start step", "start step"]

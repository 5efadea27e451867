"""What a fact says where nothing was said, and when a re-sanitise asks for fresh samples."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from brewhygiene.release.standing.clocks import counted_from, needs_reclean, needs_samples
from brewhygiene.release.standing.facts import (
    CleanFacts,
    DecisionFacts,
    HoldTimes,
    TurnaroundFacts,
    VesselFacts,
)

EMPTIED = datetime(2026, 3, 10, 6, 0, tzinfo=UTC)
HOUR, SECOND = timedelta(hours=1), timedelta(seconds=1)


def after(hours: float) -> datetime:
    return EMPTIED + hours * HOUR


CLEAN = CleanFacts(1, True, "Hot", after(1), finished_at=after(3), sanitised_at=after(3))
TURNAROUND = TurnaroundFacts(pk=1, emptied_at=EMPTIED, cleans=[CLEAN])
VESSEL = VesselFacts(name="FV 1", turnaround=TURNAROUND)


def test_hold_times_of_a_kind_without_its_own() -> None:
    assert HoldTimes() == HoldTimes(dirty=24 * HOUR, clean=24 * HOUR, sanitised=4 * HOUR)


def test_what_is_not_said_is_not_so() -> None:
    assert (CLEAN.before_filling, CLEAN.accepted) == (False, False)
    assert TURNAROUND.emptied_before_record is False
    assert (VESSEL.filled_without_release, VESSEL.filled_before_record) == (False, False)
    assert DecisionFacts(1, "release", EMPTIED, "Mara").by_meter is True


@pytest.mark.parametrize(
    "now, asks",
    [(after(3), False), (after(27) - SECOND, False), (after(27), True), (after(28), True)],
)
def test_samples_are_asked_for_once_the_clean_hold_has_passed(now: datetime, asks: bool) -> None:
    assert needs_samples(VESSEL, now) is asks


def test_samples_are_asked_for_after_an_opening() -> None:
    opened = replace(VESSEL, turnaround=replace(TURNAROUND, openings=[after(4)]))
    assert needs_samples(opened, after(5)) is True


def test_vessel_in_use_or_not_cleaned_asks_for_none() -> None:
    assert needs_samples(replace(VESSEL, turnaround=None), after(99)) is False
    assert needs_samples(replace(VESSEL, turnaround=replace(TURNAROUND, cleans=[])), after(99)) is (
        False
    )


def again(began: float) -> CleanFacts:
    return CleanFacts(2, False, "Spray", after(began), finished_at=after(began + 0.5))


@pytest.mark.parametrize("opening, samples_pk", [(3, 2), (2.999, 1), (8.499, 2), (8.5, 1), (5, 2)])
def test_opening_between_the_clean_and_the_re_sanitise_asks_for_fresh_samples(
    opening: float, samples_pk: int
) -> None:
    turnaround = replace(TURNAROUND, cleans=[CLEAN, again(8)], openings=[after(opening)])
    found = counted_from(VESSEL, turnaround)
    assert found is not None
    assert (found.samples_pk, found.clean_hold, found.renewed) == (samples_pk, after(3), False)


@pytest.mark.parametrize(
    "now, reclean", [(after(28), False), (after(51.5) - SECOND, False), (after(51.5), True)]
)
def test_renewed_clean_hold_runs_once_and_for_its_whole_time(now: datetime, reclean: bool) -> None:
    turnaround = replace(TURNAROUND, cleans=[CLEAN, again(27)])
    assert needs_reclean(VESSEL, turnaround, now) is reclean

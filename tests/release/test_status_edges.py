"""What a vessel's status is put together from, where one clean follows another."""

from dataclasses import replace
from datetime import timedelta

import pytest

from brewhygiene.release.standing.clocks import (
    actions_since_full_clean,
    hold_ends_at,
    last_finished,
    missing_points,
    opened_since,
)
from brewhygiene.release.standing.facts import CleanFacts, TurnaroundFacts
from tests.release.test_status import CLEANED, CLEAR, VESSEL, after

LEAST = timedelta(microseconds=1)
# Finished 3 hours after the emptying, and again by another clean 6 hours after.
FIRST = CLEANED.cleans[0]
SECOND = CleanFacts(2, True, "Hot", after(5), after(6), after(6))
AGAIN = replace(CLEANED, cleans=[FIRST, SECOND])
UNCLEANED = replace(CLEANED, cleans=[])
STOPPED = CleanFacts(3, True, "Hot", after(7), stopped_at=after(8))


def test_readings_count_from_the_last_clean_on_whatever_was_sanitised_since() -> None:
    two = replace(VESSEL, required_points={7: "Cone", 9: "Arm"})
    of_first, of_second = CLEAR, replace(CLEAR, clean_pk=2, point_pk=9)
    sampled = replace(AGAIN, results=[of_first, of_second])
    assert missing_points(two, sampled) == ["Cone"]
    resanitised = replace(sampled, cleans=[FIRST, replace(SECOND, is_clean=False)])
    assert missing_points(two, resanitised) == []
    assert missing_points(two, replace(resanitised, openings=[after(3.5)])) == ["Cone"]
    # Of a clean that is not there: later than the first, so it counts.
    assert missing_points(two, replace(sampled, cleans=[FIRST])) == []
    assert missing_points(two, replace(AGAIN, results=[of_first], cleans=[FIRST])) == ["Arm"]
    assert missing_points(two, UNCLEANED) == ["Cone", "Arm"]


@pytest.mark.parametrize(
    "openings, first",
    [
        ([], None),
        ([after(3) - LEAST], None),
        ([after(3)], after(3)),
        ([after(2), after(4), after(5)], after(4)),
    ],
)
def test_an_opening_counts_from_the_very_moment_the_clean_was_finished(
    openings: list[object], first: object
) -> None:
    assert opened_since(replace(CLEANED, openings=openings)) == first


def test_what_was_opened_before_the_last_clean_is_clean_again() -> None:
    assert opened_since(replace(AGAIN, openings=[after(4)])) is None
    assert opened_since(replace(AGAIN, openings=[after(6)])) == after(6)


def test_nothing_holds_or_is_opened_before_anything_was_cleaned() -> None:
    for uncleaned in (UNCLEANED, replace(CLEANED, cleans=[STOPPED])):
        opened = replace(uncleaned, openings=[after(1)])
        assert last_finished(opened) is None
        assert hold_ends_at(VESSEL, opened) is None
        assert opened_since(opened) is None
        assert actions_since_full_clean(opened) == []


@pytest.mark.parametrize(
    "turnaround, ends",
    [
        # Sanitised for 4 hours, clean for 24: whichever ends first.
        (CLEANED, after(7)),
        (replace(CLEANED, cleans=[replace(FIRST, sanitised_at=None)]), after(27)),
        (AGAIN, after(10)),
        (replace(AGAIN, cleans=[FIRST, SECOND, STOPPED]), after(10)),
    ],
)
def test_the_shorter_hold_of_the_last_clean_ends_first(
    turnaround: TurnaroundFacts, ends: object
) -> None:
    assert hold_ends_at(VESSEL, turnaround) == ends


def test_a_reading_over_the_limit_stands_until_a_full_clean_answers_it() -> None:
    over = replace(CLEAR, verdict="action", rlu=400)
    resanitised = replace(AGAIN, cleans=[FIRST, replace(SECOND, is_clean=False)])
    after_it = replace(over, clean_pk=2)
    assert actions_since_full_clean(replace(resanitised, results=[over])) == [over]
    assert actions_since_full_clean(replace(resanitised, results=[after_it])) == [after_it]
    assert actions_since_full_clean(replace(AGAIN, results=[over, after_it])) == [after_it]
    assert actions_since_full_clean(replace(CLEANED, results=[CLEAR])) == []
    stopped = replace(CLEANED, cleans=[FIRST, STOPPED], results=[over])
    assert actions_since_full_clean(stopped) == [over]

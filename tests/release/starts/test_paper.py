"""A vessel that stood empty, or released on paper, before this record began: pure functions."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from brewhygiene.release.standing.facts import (
    CleanFacts,
    DecisionFacts,
    HoldTimes,
    TurnaroundFacts,
    VesselFacts,
)
from brewhygiene.release.standing.paper import PaperRelease
from brewhygiene.release.status import Code, Next, may_resanitise, status_of

T0 = datetime(2026, 3, 10, 6, 0, tzinfo=UTC)
WORDS = "Signed on paper by R. Vane (invented), before this record began"
ON_PAPER = TurnaroundFacts(
    pk=1,
    emptied_at=T0,
    emptied_before_record=True,
    paper=PaperRelease(T0, "R. Vane (invented)"),
)
VESSEL = VesselFacts(name="FV 1", required_points={7: "Cone"}, turnaround=ON_PAPER)
EMPTY = replace(VESSEL, turnaround=replace(ON_PAPER, paper=None))
STOPPED = CleanFacts(
    pk=1,
    is_clean=True,
    regime="Hot",
    started_at=T0 + timedelta(hours=1),
    stopped_at=T0 + timedelta(hours=2),
)


def after(hours: float) -> datetime:
    return T0 + timedelta(hours=hours)


def test_release_on_paper_stands_until_the_shorter_hold_time_from_the_paper() -> None:
    status = status_of(VESSEL, after(3.99))
    assert (status.code, status.next, status.since) == (Code.RELEASED, Next.FILL, T0)
    assert (status.due_at, status.detail) == (after(4), WORDS)
    assert status_of(VESSEL, after(4)).code == Code.LAPSED


@pytest.mark.parametrize(
    ("clean", "sanitised", "ends"), [(24, 4, 4), (6, 8, 6), (2, 2, 2), (5, 72, 5)]
)
def test_either_hold_time_ends_it(clean: int, sanitised: int, ends: int) -> None:
    hold = HoldTimes(clean=timedelta(hours=clean), sanitised=timedelta(hours=sanitised))
    assert status_of(replace(VESSEL, hold_times=hold), T0).due_at == after(ends)


def test_lapsed_paper_asks_for_a_clean_not_for_a_sanitiser() -> None:
    status = status_of(VESSEL, after(100))
    assert (status.code, status.since, status.next) == (Code.LAPSED, after(4), Next.CLEAN)
    assert status.detail == f"The release has lapsed. {WORDS}"
    assert may_resanitise(VESSEL, after(100)) == (
        "No clean is finished yet. Clean the vessel first."
    )


def test_opening_ends_it_from_the_time_on_the_paper_on() -> None:
    opened = replace(VESSEL, turnaround=replace(ON_PAPER, openings=[T0]))
    status = status_of(opened, after(1))
    assert (status.code, status.since) == (Code.LAPSED, T0)
    assert status.detail == f"Opened since the release. {WORDS}"
    earlier = replace(VESSEL, turnaround=replace(ON_PAPER, openings=[after(-0.1)]))
    assert status_of(earlier, after(1)).code == Code.RELEASED


def test_clean_that_was_started_ends_it_even_if_it_was_stopped() -> None:
    stopped = replace(VESSEL, turnaround=replace(ON_PAPER, cleans=[STOPPED]))
    status = status_of(stopped, after(3))
    assert (status.code, status.next) == (Code.EMPTY, Next.CLEAN)
    assert status.detail == "The clean was stopped, emptied before this record began"


def test_hold_by_the_head_brewer_comes_before_the_paper() -> None:
    hold = DecisionFacts(None, "hold", after(1), "Mara", "The paper was of another vessel")
    held = replace(VESSEL, turnaround=replace(ON_PAPER, decisions=[hold]))
    assert status_of(held, after(2)).code == Code.HELD


def test_empty_since_nobody_knows_when_has_no_time_and_is_never_overdue() -> None:
    status = status_of(EMPTY, after(1000))
    assert (status.code, status.next) == (Code.EMPTY, Next.CLEAN)
    assert (status.since, status.due_at) == (None, None)
    assert status.detail == "Waiting to be cleaned, emptied before this record began"


def test_contents_from_before_say_so_in_the_status() -> None:
    full = VesselFacts(name="FV 1", filled_at=T0, contents="Pale ale 7", filled_before_record=True)
    status = status_of(full, after(1))
    assert (status.code, status.next, status.since) == (Code.IN_USE, Next.EMPTY, T0)
    assert status.detail == "Pale ale 7, before this record began"

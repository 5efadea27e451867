"""A vessel's status at the edges of its clocks: a pure function, so no database."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.release.standing.facts import (
    CleanFacts,
    DecisionFacts,
    HoldTimes,
    ResultFacts,
    TurnaroundFacts,
    VesselFacts,
)
from brewhygiene.release.status import Code, Next, may_resanitise, status_of

T0 = datetime(2026, 3, 10, 6, 0, tzinfo=UTC)


def after(hours: float) -> datetime:
    return T0 + timedelta(hours=hours)


CLEANED = TurnaroundFacts(
    pk=1,
    emptied_at=T0,
    cleans=[
        CleanFacts(
            pk=1,
            is_clean=True,
            regime="Hot",
            started_at=after(1),
            finished_at=after(3),
            sanitised_at=after(3),
        )
    ],
)
CLEAR = ResultFacts(
    clean_pk=1, point_pk=7, point="Cone", verdict="clear", rlu=0, recorded_at=after(3.2)
)
RELEASE = DecisionFacts(
    clean_pk=1, outcome="release", decided_at=after(3.5), by="Mara", lapses_at=after(7)
)
VESSEL = VesselFacts(name="FV1", required_points={7: "Cone"}, turnaround=CLEANED)


def with_turnaround(**values: object) -> VesselFacts:
    return replace(VESSEL, turnaround=replace(CLEANED, **values))


def test_vessel_without_any_record_is_empty_and_says_so() -> None:
    status = status_of(VesselFacts(name="FV1"), T0)
    assert (status.code, status.since, status.next) == (Code.EMPTY, None, Next.EMPTY)


def test_emptied_vessel_is_due_by_its_dirty_hold() -> None:
    facts = with_turnaround(cleans=[])
    status = status_of(facts, after(1))
    assert (status.code, status.next, status.due_at) == (Code.EMPTY, Next.CLEAN, after(24))
    assert status.overdue(after(24)) is False
    assert status.overdue(after(24) + timedelta(seconds=1)) is True


def test_clocks_of_the_kind_are_the_ones_that_run() -> None:
    facts = replace(with_turnaround(cleans=[]), hold_times=HoldTimes(dirty=timedelta(hours=6)))
    assert status_of(facts, after(1)).due_at == after(6)


def test_release_lapses_at_the_moment_and_not_before() -> None:
    facts = with_turnaround(results=[CLEAR], decisions=[RELEASE])
    assert status_of(facts, after(7) - timedelta(seconds=1)).code == Code.RELEASED
    lapsed = status_of(facts, after(7))
    assert (lapsed.code, lapsed.since, lapsed.next) == (Code.LAPSED, after(7), Next.RESANITISE)


def test_unsampled_clean_that_stood_too_long_wants_a_resanitise_first() -> None:
    assert status_of(VESSEL, after(6.9)).next == Next.SAMPLE
    stale = status_of(VESSEL, after(7))
    assert (stale.code, stale.next) == (Code.TO_SAMPLE, Next.RESANITISE)


def test_clean_hold_applies_where_nothing_was_sanitised() -> None:
    clean = replace(CLEANED.cleans[0], sanitised_at=None)
    facts = with_turnaround(cleans=[clean])
    assert status_of(facts, after(26)).due_at == after(27)


def test_open_positive_plate_holds_a_full_vessel() -> None:
    facts = VesselFacts(
        name="FV1", filled_at=T0, contents="Pale B1", open_positive_since=after(100)
    )
    status = status_of(facts, after(101))
    assert (status.code, status.detail) == (Code.HELD, "Positive plate, contains Pale B1")


def test_open_positive_plate_holds_a_released_vessel() -> None:
    facts = replace(
        with_turnaround(results=[CLEAR], decisions=[RELEASE]), open_positive_since=after(4)
    )
    assert status_of(facts, after(4)).code == Code.HELD


def test_new_clean_after_a_release_voids_it() -> None:
    running = CleanFacts(pk=2, is_clean=True, regime="Hot", started_at=after(4))
    facts = with_turnaround(cleans=[*CLEANED.cleans, running], results=[CLEAR], decisions=[RELEASE])
    assert status_of(facts, after(4.5)).code == Code.CLEANING
    stopped = replace(running, stopped_at=after(4.5))
    facts = with_turnaround(cleans=[*CLEANED.cleans, stopped], results=[CLEAR], decisions=[RELEASE])
    assert status_of(facts, after(4.6)).code == Code.EMPTY


def test_resanitise_is_refused_on_hold_and_on_a_positive_plate() -> None:
    hold = replace(RELEASE, outcome="hold", reason="Smells", lapses_at=None)
    held = with_turnaround(results=[CLEAR], decisions=[hold])
    assert may_resanitise(held, after(9)) == ("The vessel is held. Re-clean it or decide again.")
    plate = replace(
        with_turnaround(results=[CLEAR], decisions=[RELEASE]), open_positive_since=after(4)
    )
    assert may_resanitise(plate, after(9)) == (
        "A positive plate is open. Re-clean the vessel instead."
    )


def test_resanitise_is_offered_for_a_lapse_and_for_an_opening() -> None:
    lapsed = with_turnaround(results=[CLEAR], decisions=[RELEASE])
    assert may_resanitise(lapsed, after(8)) is None
    opened = with_turnaround(results=[CLEAR], decisions=[RELEASE], openings=[after(4)])
    assert may_resanitise(opened, after(4.1)) is None


@given(
    verdicts=st.lists(st.sampled_from(["clear", "alert", "action", "unjudged"]), max_size=6),
    hours=st.floats(3.2, 72),
)
def test_no_reading_after_an_action_result_ends_its_hold(verdicts: list[str], hours: float) -> None:
    results = [
        replace(CLEAR, verdict=verdict, recorded_at=after(3.1 + n / 100))
        for n, verdict in enumerate(verdicts)
    ]
    status = status_of(with_turnaround(results=results), after(hours))
    assert (status.code == Code.HELD) == ("action" in verdicts)


@given(hours=st.floats(0, 1000), opened=st.booleans(), lapses=st.floats(3.6, 100))
def test_released_is_only_ever_shown_within_its_time_and_unopened(
    hours: float, opened: bool, lapses: float
) -> None:
    facts = with_turnaround(
        results=[CLEAR],
        decisions=[replace(RELEASE, lapses_at=after(lapses))],
        openings=[after(3.55)] if opened else [],
    )
    released = status_of(facts, after(hours)).code == Code.RELEASED
    # Sanitised at 3 for 4 hours: then it has to be sanitised again before it is filled.
    assert released == (not opened and hours < min(lapses, 7))

"""Rules of the status that are an order or a minimum, for any vessel that may be."""

import dataclasses
from dataclasses import replace
from datetime import datetime, timedelta

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from brewhygiene.release.standing.clocks import counted_from, hold_ends_at, missing_points
from brewhygiene.release.standing.facts import (
    CleanFacts,
    DecisionFacts,
    HoldTimes,
    ResultFacts,
    TurnaroundFacts,
    VesselFacts,
)
from brewhygiene.release.status import Code, may_resanitise, status_of
from tests.release.situations.words import EMPTIED, POINTS, RLU

VERDICTS = ("clear", "alert", "action", "unjudged")


# From what may be filled to what may not be used at all.
ORDER = [
    Code.RELEASED,
    Code.LAPSED,
    Code.TO_DECIDE,
    Code.TO_SAMPLE,
    Code.CLEANING,
    Code.EMPTY,
    Code.HELD,
    Code.OUT_OF_SERVICE,
]


# Drawing a whole turnaround takes its time.
half = settings(max_examples=50)


minutes = st.integers(0, 40 * 60)


spans = st.integers(1, 48 * 60).map(lambda m: timedelta(minutes=m))


hold_times = st.builds(HoldTimes, dirty=spans, clean=spans, sanitised=spans)


def after(minute: int) -> datetime:
    return EMPTIED + timedelta(minutes=minute)


@st.composite
def turnarounds(draw: st.DrawFn) -> TurnaroundFacts:
    """Cleans one after the other, each finished, stopped, or, the last, still running."""
    cleans: list[CleanFacts] = []
    minute = draw(st.integers(0, 600))
    for pk in range(1, 1 + draw(st.integers(0, 3))):
        began, took = minute, draw(st.integers(1, 200))
        ending = draw(st.sampled_from(["finished", "finished", "stopped"]))
        minute = began + took + draw(st.integers(0, 400))
        finished = after(began + took) if ending == "finished" else None
        sanitised = finished and draw(st.none() | st.integers(began, began + took).map(after))
        cleans.append(
            CleanFacts(
                pk=pk,
                is_clean=pk == 1 or draw(st.booleans()),
                regime="Hot",
                started_at=after(began),
                finished_at=finished,
                sanitised_at=sanitised,
                stopped_at=None if finished else after(began + took),
            )
        )
    if cleans and draw(st.booleans()):
        cleans.append(CleanFacts(9, draw(st.booleans()), "Hot", after(minute)))
    finished_pks = [c.pk for c in cleans if c.finished_at is not None]
    results = draw(st.lists(readings(finished_pks), max_size=4)) if finished_pks else []
    decisions = draw(
        st.lists(
            st.builds(
                DecisionFacts,
                clean_pk=st.just(1),
                outcome=st.sampled_from(["hold", "release"]),
                decided_at=minutes.map(after),
                by=st.just("Mara Oduya"),
                reason=st.just("Smells"),
                lapses_at=minutes.map(after),
            ),
            max_size=2,
        )
    )
    return TurnaroundFacts(
        pk=1,
        emptied_at=EMPTIED,
        cleans=cleans,
        results=sorted(results, key=lambda r: r.recorded_at),
        decisions=sorted(decisions, key=lambda d: d.decided_at),
        openings=sorted(draw(st.lists(minutes.map(after), max_size=2))),
    )


def readings(clean_pks: list[int], verdicts: tuple[str, ...] = VERDICTS) -> st.SearchStrategy:
    return st.builds(
        lambda pk, point, verdict, when: ResultFacts(
            pk, point, POINTS[point], verdict, RLU[verdict], when
        ),
        st.sampled_from(clean_pks),
        st.sampled_from([1, 2]),
        st.sampled_from(verdicts),
        minutes.map(after),
    )


vessels = st.builds(
    VesselFacts,
    name=st.just("FV1"),
    hold_times=hold_times,
    required_points=st.sampled_from([{1: "Cone"}, {1: "Cone", 2: "Arm"}]),
    out_of_service_since=st.none() | minutes.map(after),
    open_positive_since=st.none() | minutes.map(after),
    turnaround=turnarounds(),
)


def rank(facts: VesselFacts, now: datetime) -> int:
    return ORDER.index(status_of(facts, now).code)


def opened_more(facts: VesselFacts, at: datetime) -> VesselFacts:
    turnaround = facts.turnaround
    assert turnaround is not None
    return replace(
        facts,
        turnaround=replace(turnaround, openings=sorted([*turnaround.openings, at])),
    )


@half
@given(facts=vessels, now=minutes.map(after), at=minutes.map(after))
def test_no_opening_makes_a_status_better(facts: VesselFacts, now: datetime, at: datetime) -> None:
    assert rank(opened_more(facts, at), now) >= rank(facts, now)


@half
@given(facts=vessels, now=minutes.map(after), since=minutes.map(after))
def test_no_positive_plate_makes_a_status_better(
    facts: VesselFacts, now: datetime, since: datetime
) -> None:
    worse = replace(facts, open_positive_since=since)
    assert rank(worse, now) >= rank(replace(facts, open_positive_since=None), now)
    if facts.turnaround is not None and not running(facts.turnaround):
        assert rank(worse, now) >= ORDER.index(Code.HELD)


def running(turnaround: TurnaroundFacts) -> bool:
    return any(c.finished_at is None and c.stopped_at is None for c in turnaround.cleans)


@half
@given(facts=vessels, now=minutes.map(after))
def test_out_of_service_is_the_last_word(facts: VesselFacts, now: datetime) -> None:
    out = replace(facts, out_of_service_since=EMPTIED)
    assert status_of(out, now).code == Code.OUT_OF_SERVICE


@half
@given(facts=vessels, now=minutes.map(after), later=spans)
def test_no_waiting_makes_a_status_better(
    facts: VesselFacts, now: datetime, later: timedelta
) -> None:
    assert rank(facts, now + later) >= rank(facts, now)


@half
@given(facts=vessels, now=minutes.map(after), data=st.data())
def test_a_worse_verdict_never_makes_a_better_status(
    facts: VesselFacts, now: datetime, data: st.DataObject
) -> None:
    turnaround = facts.turnaround
    assert turnaround is not None
    if not turnaround.results:
        return
    place = data.draw(st.integers(0, len(turnaround.results) - 1))

    def with_verdict(verdict: str) -> VesselFacts:
        results = list(turnaround.results)
        results[place] = replace(results[place], verdict=verdict)
        return replace(facts, turnaround=replace(turnaround, results=results))

    clear, alert, action = (rank(with_verdict(v), now) for v in ("clear", "alert", "action"))
    assert clear <= alert <= action


@half
@given(facts=vessels, now=minutes.map(after), data=st.data())
def test_a_reading_over_the_action_limit_holds_until_a_full_clean(
    facts: VesselFacts, now: datetime, data: st.DataObject
) -> None:
    """Whatever else was read, sanitised or opened; a later release with a reason excepted."""
    turnaround = facts.turnaround
    assert turnaround is not None
    full = [c.pk for c in turnaround.cleans if c.finished_at is not None and c.is_clean]
    counted = [
        c.pk for c in turnaround.cleans if full and c.pk >= full[-1] and c.finished_at is not None
    ]
    if not counted or running(turnaround):
        return
    over = replace(data.draw(readings(counted, ("action",))), recorded_at=after(60 * 60))
    held = replace(facts, turnaround=replace(turnaround, results=[*turnaround.results, over]))
    assert rank(held, now) >= ORDER.index(Code.HELD)
    assert may_resanitise(held, now) is not None


@half
@given(facts=vessels)
def test_the_hold_time_is_the_shorter_of_two(facts: VesselFacts) -> None:
    turnaround = facts.turnaround
    assert turnaround is not None
    finished = [c for c in turnaround.cleans if c.finished_at is not None]
    ends = hold_ends_at(facts, turnaround)
    if not finished:
        assert ends is None
        return
    full = [c for c in finished if c.is_clean]
    if not full:
        assert ends is None
        return
    first = full[-1]
    later = [c for c in finished if c.pk > first.pk]
    passed = first.finished_at + facts.hold_times.clean
    renewed = [c.finished_at for c in later if c.started_at >= passed]
    both = [(renewed or [first.finished_at])[0] + facts.hold_times.clean]
    sanitised = [c.sanitised_at for c in (first, *later) if c.sanitised_at is not None]
    both += [moment + facts.hold_times.sanitised for moment in sorted(sanitised)[-1:]]
    assert ends == min(both)


@half
@given(facts=vessels, less=spans, which=st.sampled_from(["clean", "sanitised"]))
def test_a_shorter_hold_time_never_ends_later(
    facts: VesselFacts, less: timedelta, which: str
) -> None:
    turnaround = facts.turnaround
    assert turnaround is not None
    shorter = replace(
        facts,
        hold_times=replace(facts.hold_times, **{which: getattr(facts.hold_times, which) - less}),
    )
    # With a shorter clean-hold a re-sanitise may be one that renews it.
    renewed = [counted_from(each, turnaround) for each in (facts, shorter)]
    assume(len({each.renewed for each in renewed if each is not None}) <= 1)
    before, now_ends = hold_ends_at(facts, turnaround), hold_ends_at(shorter, turnaround)
    assert before is None or (now_ends is not None and now_ends <= before)


@half
@given(facts=vessels, now=minutes.map(after), point=st.sampled_from([2, 3]))
def test_another_required_point_never_makes_a_status_better(
    facts: VesselFacts, now: datetime, point: int
) -> None:
    more = replace(facts, required_points={**facts.required_points, point: POINTS[point]})
    assert rank(more, now) >= rank(facts, now)
    turnaround = facts.turnaround
    assert turnaround is not None
    assert set(missing_points(facts, turnaround)) <= set(missing_points(more, turnaround))


@half
@given(facts=vessels, now=minutes.map(after))
def test_what_is_released_was_cleaned_decided_and_is_neither_late_nor_open(
    facts: VesselFacts, now: datetime
) -> None:
    status, turnaround = status_of(facts, now), facts.turnaround
    assert turnaround is not None
    if status.code != Code.RELEASED:
        return
    decision, last = turnaround.decisions[-1], turnaround.cleans[-1]
    assert facts.open_positive_since is None
    assert facts.out_of_service_since is None
    assert last.finished_at is not None
    assert (decision.outcome, status.since) == ("release", decision.decided_at)
    assert decision.lapses_at is not None
    assert now < decision.lapses_at == status.due_at
    assert all(c.started_at < decision.decided_at for c in turnaround.cleans)
    assert all(moment < last.finished_at for moment in turnaround.openings)


@half
@given(facts=vessels, now=minutes.map(after))
def test_a_held_vessel_shows_the_earliest_time_and_the_highest_reading(
    facts: VesselFacts, now: datetime
) -> None:
    turnaround = facts.turnaround
    assert turnaround is not None
    plain = replace(
        facts,
        out_of_service_since=None,
        open_positive_since=None,
        turnaround=replace(
            turnaround,
            decisions=[],
            cleans=[CleanFacts(1, True, "Hot", after(1), after(2))],
            results=[
                replace(r, clean_pk=1, verdict="action", rlu=31 + n * 7 % 5)
                for n, r in enumerate(turnaround.results)
            ],
        ),
    )
    results = plain.turnaround.results
    status = status_of(plain, now)
    if not results:
        assert status.code != Code.HELD
        return
    assert status.code == Code.HELD
    assert status.since == sorted(r.recorded_at for r in results)[0]
    assert f" {sorted(r.rlu for r in results)[-1]} RLU" in status.detail


def test_every_fact_of_a_vessel_has_a_part_in_its_status() -> None:
    """A fact that is added has to be thought of here and in the truth table."""
    assert {field.name for field in dataclasses.fields(VesselFacts)} == {
        "name",
        "hold_times",
        "required_points",
        "out_of_service_since",
        "out_of_service_reason",
        "open_positive_since",
        "filled_at",
        "contents",
        "filled_without_release",
        "filled_before_record",
        "turnaround",
        "by_date",
    }
    assert {field.name for field in dataclasses.fields(TurnaroundFacts)} == {
        "pk",
        "emptied_at",
        "cleans",
        "results",
        "decisions",
        "openings",
        "emptied_before_record",
        "paper",
        "inside",
        "entered_since",
        "allergen_found",
        "entrants",
    }

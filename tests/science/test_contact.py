"""Contact time: cases worked by hand, and what holds for any events."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.contact import ContactRuns, Event, EventKind, contact_runs

ASKED = ("strength", "temperature")


def flow(at_s: float) -> Event:
    return Event(at_s, "flow")


def lost(at_s: float) -> Event:
    return Event(at_s, "no_flow")


def read(at_s: float, quantity: str, kind: EventKind = "inside") -> Event:
    return Event(at_s, kind, quantity)


def lengths(found: ContactRuns) -> list[tuple[float, float, float]]:
    return [(run.from_s, run.until_s, run.length_s) for run in found.runs]


# Worked by hand, in seconds from the start of a step.
@pytest.mark.parametrize(
    ("events", "until_s", "runs", "longest_s"),
    [
        # Both read by 180 s: from the second of the two, not from the start.
        (
            [flow(0), read(120, "strength"), read(180, "temperature")],
            1800,
            [(180, 1800, 1620)],
            1620,
        ),
        # One of two is not read: nothing is known.
        ([flow(0), read(120, "strength")], 1800, [], 0),
        # Lost for 300 s: a pause, in one run.
        (
            [flow(0), read(60, "strength"), read(60, "temperature"), lost(600), flow(900)],
            1800,
            [(60, 1800, 1440)],
            1440,
        ),
        # Lost and never back.
        (
            [flow(0), read(60, "strength"), read(60, "temperature"), lost(600)],
            1800,
            [(60, 1800, 540)],
            540,
        ),
        # Lost by what a logger says, and a tap does not bring it back.
        (
            [
                flow(0),
                read(60, "strength"),
                read(60, "temperature"),
                Event(600, "no_flow", "logger"),
                flow(700),
                Event(900, "flow", "logger"),
            ],
            1800,
            [(60, 1800, 1440)],
            1440,
        ),
        # Lost by a tap and by a logger: back when both say so.
        (
            [
                flow(0),
                read(60, "strength"),
                read(60, "temperature"),
                lost(600),
                Event(650, "no_flow", "logger"),
                Event(800, "flow", "logger"),
                flow(900),
            ],
            1800,
            [(60, 1800, 1440)],
            1440,
        ),
        # Read while nothing flows: it counts from when the flow is back.
        (
            [flow(0), lost(30), read(60, "strength"), read(60, "temperature"), flow(100)],
            400,
            [(60, 400, 300)],
            300,
        ),
        # Outside in the middle: two runs, and the longer one counts.
        (
            [
                flow(0),
                read(0, "strength"),
                read(0, "temperature"),
                read(1000, "temperature", "outside"),
                read(1100, "temperature"),
            ],
            1800,
            [(0, 1000, 1000), (1100, 1800, 700)],
            1000,
        ),
        # Topped up at 300, read again at 420.
        (
            [
                flow(0),
                read(60, "temperature"),
                read(120, "strength", "outside"),
                read(300, "strength", "unknown"),
                read(420, "strength"),
            ],
            1800,
            [(420, 1800, 1380)],
            1380,
        ),
        # A second reading inside changes nothing.
        (
            [flow(0), read(60, "strength"), read(60, "temperature"), read(900, "strength")],
            1200,
            [(60, 1200, 1140)],
            1140,
        ),
        # What happens after the end does not count.
        (
            [flow(0), read(60, "strength"), read(60, "temperature"), lost(1300)],
            1200,
            [(60, 1200, 1140)],
            1140,
        ),
    ],
)
def test_runs_worked_by_hand(
    events: list[Event],
    until_s: float,
    runs: list[tuple[float, float, float]],
    longest_s: float,
) -> None:
    found = contact_runs(events, asked=ASKED, until_s=until_s)
    assert lengths(found) == runs
    assert found.longest_s == longest_s


def test_what_broke_a_run_is_named() -> None:
    outside = read(500, "strength", "outside")
    found = contact_runs([flow(0), read(10, "strength"), outside], asked=["strength"], until_s=900)
    assert [run.ended_by for run in found.runs] == [outside]
    assert (found.missing, found.flowing, found.counting) == (("strength",), True, False)
    assert (found.longest_s, found.current_s) == (490, 0)


def test_a_run_that_is_on_counts_only_while_it_flows() -> None:
    events = [flow(0), read(10, "strength"), lost(500)]
    found = contact_runs(events, asked=["strength"], until_s=900)
    assert (found.counting, found.current_s, found.missing) == (False, 490, ())
    again = contact_runs([*events, flow(900)], asked=["strength"], until_s=900)
    assert (again.counting, again.current_s) == (True, 490)


def test_with_nothing_asked_there_is_no_contact_time() -> None:
    assert contact_runs([flow(0)], asked=[], until_s=900).runs == ()


EVENTS = st.lists(
    st.one_of(
        st.builds(
            Event,
            st.integers(0, 60),
            st.sampled_from(["flow", "no_flow"]),
            st.sampled_from(["", "logger"]),
        ),
        st.builds(
            Event,
            st.integers(0, 60),
            st.sampled_from(["inside", "outside", "unknown"]),
            st.sampled_from([*ASKED, "ph"]),
        ),
    ),
    max_size=14,
)


def second_by_second(events: list[Event], until_s: int) -> list[int]:
    """The runs' lengths, by looking at every second in turn."""
    state, runs, on = dict.fromkeys(ASKED, False), [], False
    flows = {"": False}  # as everybody who told of it says
    for second in range(until_s + 1):
        for event in [e for e in events if e.at_s == second]:
            if event.kind in ("flow", "no_flow"):
                flows[event.quantity] = event.kind == "flow"
            elif event.quantity in state:
                state[event.quantity] = event.kind == "inside"
            if not all(state.values()):
                on = False
            elif not on:
                on = True
                runs.append(0)
        if on and all(flows.values()) and second < until_s:
            runs[-1] += 1
    return runs


@given(EVENTS, st.integers(0, 70))
def test_runs_are_those_found_second_by_second(events: list[Event], until_s: int) -> None:
    found = contact_runs(events, asked=ASKED, until_s=until_s)
    assert [run.length_s for run in found.runs] == second_by_second(events, until_s)


@given(EVENTS, st.integers(1, 70), st.integers(0, 60), st.sampled_from(ASKED))
def test_neither_a_reading_outside_nor_a_loss_of_flow_makes_contact_longer(
    events: list[Event], until_s: int, at_s: int, quantity: str
) -> None:
    before = contact_runs(events, asked=ASKED, until_s=until_s).longest_s
    for worse in (read(at_s, quantity, "outside"), lost(at_s)):
        later = [e for e in events if e.at_s <= at_s]
        rest = [e for e in events if e.at_s > at_s]
        after = contact_runs([*later, worse, *rest], asked=ASKED, until_s=until_s)
        assert after.longest_s <= before


@given(EVENTS, st.integers(0, 70), st.integers(0, 10))
def test_contact_only_grows_with_time(events: list[Event], until_s: int, more_s: int) -> None:
    now = contact_runs(events, asked=ASKED, until_s=until_s).longest_s
    later = contact_runs(events, asked=ASKED, until_s=until_s + more_s).longest_s
    assert now <= later <= now + more_s


@given(EVENTS, st.integers(0, 70))
def test_no_run_is_longer_than_the_step(events: list[Event], until_s: int) -> None:
    found = contact_runs(events, asked=ASKED, until_s=until_s)
    assert all(0 <= run.length_s <= run.until_s - run.from_s for run in found.runs)
    assert sum(run.length_s for run in found.runs) <= until_s
    assert found.longest_s >= found.current_s


@given(EVENTS, st.integers(0, 70))
def test_asking_more_never_makes_contact_longer(events: list[Event], until_s: int) -> None:
    one = contact_runs(events, asked=["strength"], until_s=until_s).longest_s
    assert contact_runs(events, asked=ASKED, until_s=until_s).longest_s <= one

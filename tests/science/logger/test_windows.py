"""Minutes inside windows, runs, gaps and extremes."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.logger.coverage import CoverageTally, Extremes
from brewhygiene.science.logger.windows import Bound, Run, Window, WindowResult, WindowTally

HOT = Window("hot", (Bound("temperature_c", 60, 85),))


def judged(
    window: Window, seconds: list[float], *, cuts: tuple[int, ...] = (), max_gap_s: float = 60,
    **values: list[float],
) -> WindowResult:  # fmt: skip
    tally = WindowTally(window, max_gap_s=max_gap_s)
    times = np.array(seconds, dtype=float)
    arrays = {name: np.array(each, dtype=float) for name, each in values.items()}
    edges = [0, *cuts, len(times)]
    for place, start in enumerate(edges[:-1]):
        part = slice(start, edges[place + 1])
        tally.add(times[part], {name: each[part] for name, each in arrays.items()})
    return tally.result()


def rounded(run: Run) -> Run:
    """Without the allowance of 1e-9 at a bound."""
    return Run(round(run.from_s, 4), round(run.length_s, 4), run.entered)


def test_straight_lines_are_cut_at_the_bounds() -> None:
    # 40 to 80 °C in a minute: inside from 60 on, half of it; then to 90: half of it again.
    found = judged(HOT, [0, 60, 120], temperature_c=[40, 80, 90])
    assert found.minutes_inside == pytest.approx(1.0)
    assert found.minutes_known == 2
    assert rounded(found.longest_run) == Run(30, 60, entered=True)


def test_bounds_belong_to_the_window() -> None:
    found = judged(HOT, [0, 30, 60], temperature_c=[60, 60, 60])
    assert (found.minutes_inside, found.longest_run) == (1, Run(0, 60, entered=False))


def test_line_that_jumps_over_the_window_counts_its_crossing() -> None:
    found = judged(HOT, [0, 50], temperature_c=[50, 100])
    assert found.minutes_inside * 60 == pytest.approx(25)


def test_two_quantities_have_to_hold_together() -> None:
    window = Window("caustic", (Bound("temperature_c", 60), Bound("flow_l_min", 100)))
    found = judged(
        window, [0, 60, 120], temperature_c=[50, 70, 70], flow_l_min=[120, 120, 80]
    )  # inside from 30 s, by temperature, to 90 s, by flow
    assert rounded(found.longest_run) == Run(30, 60, entered=True)
    assert found.extremes["flow_l_min"] == Extremes(80, 120, 120, 0)


def test_gap_ends_a_run_and_is_not_known() -> None:
    found = judged(HOT, [0, 60, 400, 460], temperature_c=[70, 70, 70, 70])
    assert (found.minutes_inside, found.minutes_known) == (2, 2)
    assert found.longest_run == Run(0, 60, entered=False)
    assert (found.gap_count, found.longest_gap_min) == (1, pytest.approx(340 / 60))


def test_gaps_at_either_end_count() -> None:
    nan = float("nan")
    found = judged(HOT, [0, 60, 120, 180, 240, 300], temperature_c=[nan, nan, 70, 70, nan, nan])
    assert (found.gap_count, found.longest_gap_min, found.minutes_known) == (2, 2, 1)


def test_no_reading_at_all_is_one_gap() -> None:
    found = judged(HOT, [0, 60, 120], temperature_c=[float("nan")] * 3)
    assert (found.readings, found.longest_gap_min, found.longest_run) == (0, 2, None)


def test_span_is_cut_between_readings() -> None:
    window = Window("hot", (Bound("temperature_c", 60, 85),), from_s=15, until_s=75)
    found = judged(window, [0, 30, 60, 90], temperature_c=[70, 70, 70, 70])
    assert (found.minutes_inside, found.readings) == (1, 2)
    assert found.longest_run == Run(15, 60, entered=False)


def test_runs_long_enough_are_kept() -> None:
    window = Window("rinsed", (Bound("conductivity_ms_cm", None, 1),), hold_s=60)
    found = judged(
        window,
        [0, 30, 60, 90, 120, 150, 180, 210, 240],
        conductivity_ms_cm=[0.5, 0.5, 0.5, 2, 0.5, 2, 0.5, 0.5, 0.5],
    )
    assert [(run.entered, round(run.from_s)) for run in found.runs] == [(False, 0), (True, 170)]
    assert found.run_count == 2


@st.composite
def traces(draw: st.DrawFn) -> tuple[list[float], list[float], list[float]]:
    steps = draw(st.lists(st.integers(1, 90), min_size=2, max_size=25))
    some = st.one_of(st.integers(40, 100), st.just(float("nan")))
    size = len(steps)
    flows = st.lists(st.integers(50, 150), min_size=size, max_size=size)
    return (
        np.cumsum(steps).tolist(),
        draw(st.lists(some, min_size=size, max_size=size)),
        draw(flows),
    )


@given(trace=traces(), cuts=st.sets(st.integers(1, 24), max_size=4), span=st.booleans())
def test_parts_do_not_change_the_result(trace: tuple, cuts: set[int], span: bool) -> None:
    seconds, celsius, flows = trace
    bounds = (Bound("temperature_c", 60, 85), Bound("flow_l_min", 90, None))
    window = Window("both", bounds, hold_s=20)
    if span:
        window = Window("both", bounds, from_s=100, until_s=400, hold_s=20)
    inner = tuple(sorted(cut for cut in cuts if cut < len(seconds)))
    whole = judged(window, seconds, temperature_c=celsius, flow_l_min=flows)
    parted = judged(window, seconds, cuts=inner, temperature_c=celsius, flow_l_min=flows)
    assert parted.minutes_inside == pytest.approx(whole.minutes_inside)
    assert parted.minutes_known == pytest.approx(whole.minutes_known)
    assert parted.longest_gap_min == pytest.approx(whole.longest_gap_min)
    assert (parted.gap_count, parted.readings, parted.extremes) == (
        whole.gap_count, whole.readings, whole.extremes,
    )  # fmt: skip
    assert list(map(rounded, parted.runs)) == list(map(rounded, whole.runs))


@given(trace=traces())
def test_minutes_and_longest_run_are_those_of_a_fine_grid(trace: tuple) -> None:
    """A second method: the same lines at a hundred points a second, counted."""
    seconds, celsius, _ = trace
    found = judged(HOT, seconds, temperature_c=celsius)
    times, numbers = np.array(seconds), np.array(celsius, dtype=float)
    known = ~np.isnan(numbers)
    times, numbers = times[known], numbers[known]
    if len(times) < 2:
        assert found.minutes_inside == 0
        return
    grid = np.arange(times[0], times[-1], 0.01) + 0.005
    at = np.searchsorted(times, grid) - 1
    bridged = np.diff(times)[at] <= 60
    values = np.interp(grid, times, numbers)
    inside = bridged & (values >= 60) & (values <= 85)
    assert found.minutes_inside * 60 == pytest.approx(inside.sum() / 100, abs=0.02 * len(times))
    breaks = np.concatenate(([False], inside, [False])).astype(int)
    starts, ends = np.flatnonzero(np.diff(breaks) == 1), np.flatnonzero(np.diff(breaks) == -1)
    longest_s = (ends - starts).max() / 100 if len(starts) else 0.0
    ours = found.longest_run.length_s if found.longest_run else 0.0
    # A run may touch a bound for no time at all, where the grid does not see it part.
    assert ours <= longest_s + 0.03
    assert found.minutes_inside * 60 >= longest_s - 0.03


@given(trace=traces(), wider=st.floats(0, 20))
def test_wider_window_holds_no_fewer_minutes(trace: tuple, wider: float) -> None:
    seconds, celsius, _ = trace
    wide = Window("wide", (Bound("temperature_c", 60 - wider, 85 + wider),))
    narrow_minutes = judged(HOT, seconds, temperature_c=celsius).minutes_inside
    assert judged(wide, seconds, temperature_c=celsius).minutes_inside >= narrow_minutes - 1e-9


@pytest.mark.parametrize(
    "bounds, says",
    [
        ((), "at least one bound"),
        ((Bound("temperature_c"),), "a minimum, a maximum or both"),
        ((Bound("temperature_c", 85, 60),), "above its maximum"),
    ],
)
def test_window_that_bounds_nothing_is_refused(bounds: tuple, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        WindowTally(Window("none", bounds))


def test_coverage_counts_gaps_and_extremes() -> None:
    tally = CoverageTally(max_gap_s=60)
    nan = np.nan
    tally.add(np.array([0.0, 30.0, 60.0]), np.array([nan, 20.0, 21.0]))
    tally.add(np.array([90.0, 300.0, 330.0]), np.array([25.0, 19.0, nan]))
    found = tally.result()
    assert (found.readings, found.minutes_known, found.gap_count) == (4, 1, 1)
    assert found.longest_gap_min == 3.5
    assert found.extremes == Extremes(19, 300, 25, 90)

"""Readings against limits and windows, at both sides of every bound, and as an order."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.judging import judge_rlu, judge_window

WORSE = ["clear", "alert", "action"]
rlus = st.integers(0, 100_000)


@pytest.mark.parametrize(
    "rlu, verdict",
    [
        (0, "clear"),
        (9, "clear"),
        (10, "clear"),
        (11, "alert"),
        (30, "alert"),
        (31, "action"),
        (100_000, "action"),
    ],
)
def test_verdict_at_both_sides_of_each_limit(rlu: int, verdict: str) -> None:
    assert judge_rlu(rlu=rlu, alert_rlu=10, action_rlu=30) == verdict


def test_equal_limits_leave_no_room_for_an_alert() -> None:
    assert judge_rlu(rlu=10, alert_rlu=10, action_rlu=10) == "clear"
    assert judge_rlu(rlu=11, alert_rlu=10, action_rlu=10) == "action"
    assert judge_rlu(rlu=0, alert_rlu=0, action_rlu=0) == "clear"
    assert judge_rlu(rlu=1, alert_rlu=0, action_rlu=0) == "action"


@pytest.mark.parametrize("rlu", [0, 5, 100_000])
def test_a_reading_without_limits_is_unjudged(rlu: int) -> None:
    assert judge_rlu(rlu=rlu, alert_rlu=None, action_rlu=None) == "unjudged"


@pytest.mark.parametrize("alert, action", [(10, None), (None, 30), (0, None), (None, 0), (31, 30)])
def test_half_a_set_of_limits_or_a_crossed_one_is_refused(
    alert: int | None, action: int | None
) -> None:
    with pytest.raises(ValueError, match="an alert level and an action limit that is not below it"):
        judge_rlu(rlu=5, alert_rlu=alert, action_rlu=action)


@pytest.mark.parametrize("limits", [(10, 30), (None, None)])
def test_a_negative_reading_is_refused(limits: tuple[int | None, int | None]) -> None:
    with pytest.raises(ValueError, match="counted from 0"):
        judge_rlu(rlu=-1, alert_rlu=limits[0], action_rlu=limits[1])


@given(rlu=rlus, more=rlus, limits=st.tuples(rlus, rlus).map(sorted))
def test_a_higher_reading_is_never_judged_better(rlu: int, more: int, limits: list[int]) -> None:
    alert, action = limits
    low, high = (
        WORSE.index(judge_rlu(rlu=n, alert_rlu=alert, action_rlu=action)) for n in (rlu, rlu + more)
    )
    assert low <= high


@given(rlu=rlus, limits=st.lists(rlus, min_size=4, max_size=4).map(sorted))
def test_tighter_limits_never_judge_better(rlu: int, limits: list[int]) -> None:
    tight, loose = limits[:2], limits[2:]
    assert WORSE.index(judge_rlu(rlu=rlu, alert_rlu=tight[0], action_rlu=tight[1])) >= WORSE.index(
        judge_rlu(rlu=rlu, alert_rlu=loose[0], action_rlu=loose[1])
    )


@pytest.mark.parametrize(
    "value, judged",
    [
        (1.49, "below"),
        (1.5 - 3e-9, "below"),  # the allowance is 1.5e-9
        (1.5 - 1e-9, "within"),
        (1.5, "within"),
        (2.0, "within"),
        (3.0, "within"),
        (3.0 + 2e-9, "within"),  # the allowance is 3e-9
        (3.0 + 5e-9, "above"),
        (3.01, "above"),
    ],
)
def test_a_windows_bounds_belong_to_it(value: float, judged: str) -> None:
    assert judge_window(value=value, minimum=1.5, maximum=3.0) == judged


@pytest.mark.parametrize(
    "value, judged", [(-3.1, "below"), (-3.0, "within"), (-1.0, "within"), (-0.9, "above")]
)
def test_a_window_below_zero_has_its_allowance_outwards(value: float, judged: str) -> None:
    assert judge_window(value=value, minimum=-3.0, maximum=-1.0) == judged
    assert judge_window(value=-3.0 - 1e-9, minimum=-3.0, maximum=-1.0) == "within"
    assert judge_window(value=-1.0 + 5e-10, minimum=-3.0, maximum=-1.0) == "within"


@pytest.mark.parametrize("value, judged", [(-1e-12, "below"), (0.0, "within"), (1e-12, "above")])
def test_a_bound_of_zero_has_no_allowance(value: float, judged: str) -> None:
    assert judge_window(value=value, minimum=0.0, maximum=0.0) == judged


@given(value=st.floats(-1e6, 1e6))
def test_an_absent_bound_is_none(value: float) -> None:
    assert judge_window(value=value, minimum=None, maximum=None) == "within"
    assert judge_window(value=value, minimum=value, maximum=None) == "within"
    assert judge_window(value=value, minimum=None, maximum=value) == "within"
    assert judge_window(value=value, minimum=value + 10, maximum=None) == "below"
    assert judge_window(value=value, minimum=None, maximum=value - 10) == "above"

"""ROC curves and cut-offs: what they are made of, and when there is none."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from brewhygiene.science.diagnosis.costs import cheapest_cut_off
from brewhygiene.science.diagnosis.roc import roc_of, youden_cut_off
from brewhygiene.science.errors import OutOfRange, TooFewReadings

READINGS = [0, 1, 2, 3, 9, 20, 8, 30, 40, 50]
GREW = [False] * 6 + [True] * 4


@pytest.mark.parametrize(
    "scores, positive, message",
    [
        ([], [], "Of 0 pairs, 0 are positive and 0 negative. A curve needs 2 more positive and"),
        ([1, 2], [True, False], "Of 2 pairs, 1 is positive and 1 negative. A curve needs 1 more"),
        ([1, 2, 3], [True] * 3, "Of 3 pairs, 3 are positive and 0 negative. A curve needs 2 more"),
        ([1, 2, 3], [False] * 3, "Of 3 pairs, 0 are positive and 3 negative. A curve needs 2 more"),
        ([7] * 4, [True, True, False, False], "All readings are equal, so no cut-off"),
        ([1, 2, 3], [True, False], "3 readings and 2 answers do not make pairs."),
    ],
)
def test_too_few_are_refused_with_what_would_allow_it(
    scores: list[float], positive: list[bool], message: str
) -> None:
    for call in (
        lambda: roc_of(scores, positive),
        lambda: cheapest_cut_off(scores, positive, miss_cost=2, alarm_cost=1),
    ):
        with pytest.raises(TooFewReadings) as refused:
            call()
        assert str(refused.value).startswith(message)


def test_reading_that_is_no_number_is_refused() -> None:
    with pytest.raises(OutOfRange):
        roc_of([1, 2, math.nan, 4], [True, True, False, False])


def test_apart_readings_have_an_area_without_spread() -> None:
    area = roc_of([1, 2, 3, 4], [False, False, True, True]).area
    assert (area.value, area.has_interval) == (1, False)


def test_wrong_way_round_is_not_turned_over() -> None:
    assert roc_of([4, 3, 2, 1], [False, False, True, True]).area.value == 0


def test_youden_of_equals_misses_least() -> None:
    best = youden_cut_off(roc_of([1, 2, 3, 4], [True, False, True, False]))
    assert best.at_least == 1


def test_dear_misses_lower_the_cut_off_and_dear_alarms_raise_it() -> None:
    wary = cheapest_cut_off(READINGS, GREW, miss_cost=1000, alarm_cost=1)
    calm = cheapest_cut_off(READINGS, GREW, miss_cost=1, alarm_cost=1000)
    assert (wary.cut_off.at_least, calm.cut_off.at_least) == (8, 30)


def test_costs_of_never_and_always_are_told() -> None:
    found = cheapest_cut_off(READINGS, GREW, miss_cost=10, alarm_cost=1)
    assert (found.cost_never, found.cost_always, found.cost) == (4, 0.6, 0.2)


def test_interval_holds_the_cut_off_and_is_the_same_each_time() -> None:
    found = cheapest_cut_off(READINGS, GREW, miss_cost=10, alarm_cost=1)
    assert found == cheapest_cut_off(READINGS, GREW, miss_cost=10, alarm_cost=1)
    assert found.low <= found.cut_off.at_least <= found.high


def test_miss_that_costs_little_means_never() -> None:
    mixed = [True, False] * 5
    found = cheapest_cut_off(list(range(10)), mixed, miss_cost=0.001, alarm_cost=1000)
    assert (found.cut_off.at_least, found.cut_off.hits) == (None, 0)


@pytest.mark.parametrize("costs", [(0, 1), (1, 0), (-1, 1), (math.inf, 1), (1, math.nan)])
def test_costs_that_are_none_are_refused(costs: tuple[float, float]) -> None:
    with pytest.raises(OutOfRange):
        cheapest_cut_off(READINGS, GREW, miss_cost=costs[0], alarm_cost=costs[1])


@given(
    pairs=st.lists(st.tuples(st.integers(0, 30), st.booleans()), min_size=4, max_size=40),
    miss_cost=st.floats(0.1, 1000),
)
def test_cheapest_is_no_dearer_than_any(pairs: list[tuple[int, bool]], miss_cost: float) -> None:
    scores, grew = [p[0] for p in pairs], [p[1] for p in pairs]
    assume(2 <= sum(grew) <= len(grew) - 2 and len(set(scores)) > 1)
    found = cheapest_cut_off(scores, grew, miss_cost=miss_cost, alarm_cost=1, resamples=20)
    for cut in roc_of(scores, grew).cut_offs:
        cost = ((cut.positives - cut.hits) * miss_cost + cut.false_alarms) / len(pairs)
        assert found.cost <= cost + 1e-9

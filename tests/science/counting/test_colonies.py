"""Colonies to CFU: which dishes count, what is only bounded, what is refused."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.counting.colonies import Dish, colony_count, swab_factor, two_figures
from brewhygiene.science.counting.poisson import poisson_interval, poisson_upper
from brewhygiene.science.errors import OutOfRange, TooFewReadings


def test_nothing_found_is_bounded_by_what_was_looked_at() -> None:
    found = colony_count(dishes=[Dish(1, 100, 0), Dish(1, 100, 0)])
    assert (found.kind, found.per_ml, found.low_per_ml) == ("none_found", None, 0)
    assert found.high_per_ml == pytest.approx(-math.log(0.05) / 200)


def test_one_colony_is_an_estimate_with_a_wide_interval() -> None:
    found = colony_count(dishes=[Dish(1, 1, 1)])
    assert (found.kind, found.per_ml) == ("estimated", 1)
    assert (round(found.low_per_ml, 4), round(found.high_per_ml, 2)) == (0.0253, 5.57)
    assert found.says == ("An estimate, because no countable dish has 10 colonies or more.")
    assert found.normal_interval is None


@pytest.mark.parametrize("colonies, kind", [(9, "estimated"), (10, "counted"), (300, "counted")])
def test_counting_range_begins_at_10_and_ends_at_300(colonies: int, kind: str) -> None:
    assert colony_count(dishes=[Dish(10, 1, colonies)]).kind == kind


def test_dish_above_the_range_is_left_out_and_said() -> None:
    found = colony_count(dishes=[Dish(10, 1, 301), Dish(100, 1, 31)])
    assert (found.used, found.per_ml) == ((False, True), 3100)
    assert found.says == "1 dish with too many to count excluded."


def test_dilution_with_a_dish_too_full_gives_way_to_the_next() -> None:
    dishes = [Dish(10, 1, None), Dish(10, 1, 280), Dish(100, 1, 30), Dish(100, 1, 33)]
    assert colony_count(dishes=dishes).used == (False, False, True, True)


def test_third_dilution_does_not_count() -> None:
    dishes = [Dish(1, 1, 250), Dish(10, 1, 24), Dish(100, 1, 9)]
    found = colony_count(dishes=dishes)
    assert found.used == (True, True, False)
    assert found.per_ml == pytest.approx(274 / 1.1)


def test_filters_of_unequal_volumes_count_together() -> None:
    found = colony_count(dishes=[Dish(1, 100, 40), Dish(1, 50, 22)])
    assert found.per_ml == pytest.approx(62 / 150)
    assert found.used == (True, True)


def test_only_count_there_is_above_the_range_is_an_estimate() -> None:
    found = colony_count(dishes=[Dish(10, 1, 450)])
    assert (found.kind, found.per_ml) == ("estimated", 4500)
    assert found.says == (
        "An estimate, because every dish has more than 300 colonies. For a count, plate again at "
        "a higher dilution."
    )


def test_all_too_many_is_bounded_from_below() -> None:
    found = colony_count(dishes=[Dish(1, 1, None), Dish(10, 1, None)])
    assert (found.kind, found.per_ml, found.high_per_ml) == ("too_many", None, None)
    assert found.low_per_ml == pytest.approx(poisson_interval(count=300).low * 10)


def test_too_many_and_then_none_lies_between_two_bounds() -> None:
    found = colony_count(dishes=[Dish(1, 1, None), Dish(1000, 1, 0)])
    assert found.kind == "too_many"
    assert found.low_per_ml == pytest.approx(poisson_interval(count=300).low)
    assert found.high_per_ml == pytest.approx(2995.73, abs=0.01)


def test_too_many_beside_none_of_the_same_sample_is_refused() -> None:
    with pytest.raises(OutOfRange) as refused:
        colony_count(dishes=[Dish(10, 1, None), Dish(1, 1, 0)])
    assert str(refused.value).endswith("Check the dilutions and the labels, or plate again.")


def test_dishes_that_disagree_are_pointed_out() -> None:
    found = colony_count(dishes=[Dish(1, 1, 20), Dish(1, 1, 90)])
    assert found.says == (
        "The dishes differ more than expected. Check the dilutions and the labels."
    )


@pytest.mark.parametrize(
    "dishes, error",
    [
        ([], TooFewReadings),
        ([Dish(0.1, 1, 3)], OutOfRange),
        ([Dish(1, 0, 3)], OutOfRange),
        ([Dish(1, math.nan, 3)], OutOfRange),
        ([Dish(1, 1, -1)], OutOfRange),
    ],
)
def test_dishes_that_cannot_be_are_refused(dishes: list[Dish], error: type[Exception]) -> None:
    with pytest.raises(error):
        colony_count(dishes=dishes)


@given(
    counts=st.lists(st.integers(0, 400), min_size=1, max_size=6),
    dilution=st.sampled_from([1, 10, 100]),
)
def test_whatever_is_counted_lies_in_its_interval(counts: list[int], dilution: int) -> None:
    dishes = [Dish(dilution, 1, count) for count in counts]
    if 0 in counts and max(counts) > 300 and not any(0 < count <= 300 for count in counts):
        # Nothing and too many at one dilution contradict each other.
        with pytest.raises(OutOfRange, match="does not fit"):
            colony_count(dishes=dishes)
        return
    found = colony_count(dishes=dishes)
    assert math.isfinite(found.low_per_ml)
    if found.per_ml is not None:
        assert found.low_per_ml <= found.per_ml <= found.high_per_ml


def test_swab_of_25_cm2_in_10_ml() -> None:
    assert swab_factor(suspension_ml=10, area_cm2=25) == 40


@pytest.mark.parametrize(
    "values", [{"suspension_ml": 0, "area_cm2": 100}, {"suspension_ml": 10, "area_cm2": 0}]
)
def test_swab_without_liquid_or_area_is_refused(values: dict[str, float]) -> None:
    with pytest.raises(OutOfRange):
        swab_factor(**values)


@pytest.mark.parametrize(
    "value, rounded",
    [(0, 0), (1234, 1200), (1250, 1200), (1350, 1400), (0.0996, 0.1), (14500, 14000), (7, 7)],
)
def test_two_figures_go_to_the_even_at_a_five(value: float, rounded: float) -> None:
    assert two_figures(value=value) == rounded


@pytest.mark.parametrize("count", [-1, math.nan, math.inf])
def test_count_that_is_none_is_refused(count: float) -> None:
    with pytest.raises(OutOfRange):
        poisson_interval(count=count)
    with pytest.raises(OutOfRange):
        poisson_upper(count=count)


def test_interval_covers_as_often_as_it_says() -> None:
    """Exactly, by adding up the chances of all counts whose interval holds the mean."""
    from scipy.stats import poisson

    for mean in (0.5, 2.0, 7.3, 31.0):
        covered = sum(
            poisson.pmf(count, mean)
            for count in range(200)
            if poisson_interval(count=count).low <= mean <= poisson_interval(count=count).high
        )
        assert 0.95 <= covered < 1

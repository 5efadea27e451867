"""Who differs by more than luck, and that luck is not taken for more."""

import random

import pytest
from scipy.stats import binom

from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.rates.funnel import binomial_limits, funnel


@pytest.mark.parametrize("number", [1, 2, 3, 7, 20, 55, 300])
@pytest.mark.parametrize("target", [0.5, 0.9, 0.97])
def test_outside_means_that_so_few_or_so_many_are_rarer_than_said(
    number: int, target: float
) -> None:
    limits = binomial_limits(number=number, target=target)
    for count in range(number + 1):
        share = count / number
        few, many = binom.cdf(count, number, target), binom.sf(count - 1, number, target)
        assert (share < limits.low) == (few < 0.025)
        assert (share > limits.high) == (many < 0.025)


def test_limits_narrow_with_numbers_and_stay_within_0_and_1() -> None:
    widths = []
    for number in (5, 20, 80, 320):
        limits = binomial_limits(number=number, target=0.9)
        assert 0 <= limits.low < 0.9 < limits.high <= 1
        widths.append(limits.high - limits.low)
    assert widths == sorted(widths, reverse=True)


def test_over_dispersion_widens_by_its_root() -> None:
    plain = binomial_limits(number=400, target=0.5)
    wide = binomial_limits(number=400, target=0.5, phi=4)
    assert wide.high - 0.5 == pytest.approx(2 * (plain.high - 0.5))
    assert 0.5 - wide.low == pytest.approx(2 * (0.5 - plain.low))


def test_one_that_is_worse_is_outside_and_a_small_one_is_not_blamed() -> None:
    found = funnel(
        names=["usual 1", "usual 2", "usual 3", "usual 4", "bad", "small"],
        counts=[92, 89, 94, 90, 68, 2],
        numbers=[100, 100, 100, 100, 100, 3],
    )
    outside = {place.name: place.outside for place in found.places}
    assert outside["bad"] == -2
    assert outside["small"] == 0
    assert found.target == pytest.approx(435 / 503)


def test_limits_are_stretched_where_all_differ_from_all() -> None:
    found = funnel(
        names=[str(n) for n in range(10)],
        counts=[70, 75, 80, 85, 90, 95, 98, 65, 88, 78],
        numbers=[100] * 10,
    )
    assert found.stretched
    assert found.phi == pytest.approx(5.52, abs=0.01)
    assert [place.outside for place in found.places].count(0) == 10


def test_vessels_that_differ_by_luck_alone_are_seldom_outside() -> None:
    chance = random.Random(7)
    outside = stretched = 0
    for _ in range(100):
        counts = [sum(chance.random() < 0.9 for _ in range(40)) for _ in range(12)]
        found = funnel(names=[""] * 12, counts=counts, numbers=[40] * 12)
        outside += sum(abs(place.outside) == 2 for place in found.places)
        stretched += found.stretched
    assert outside <= 3  # of 1200, at 2 in a thousand
    assert stretched <= 5


@pytest.mark.parametrize(
    "counts, numbers, words",
    [
        ([5], [10], "There is only one"),
        ([10, 20], [10, 20], "All are equal"),
        ([0, 0], [10, 20], "All are equal"),
    ],
)
def test_nothing_to_compare_is_said(counts: list[int], numbers: list[int], words: str) -> None:
    with pytest.raises(TooFewReadings, match=words):
        funnel(names=["a"] * len(counts), counts=counts, numbers=numbers)


def test_more_counted_than_there_are_is_refused() -> None:
    with pytest.raises(OutOfRange, match="12 of 10"):
        funnel(names=["a", "b"], counts=[12, 3], numbers=[10, 10])


def test_all_alike_leaves_no_room() -> None:
    assert binomial_limits(number=10, target=1).low == 1

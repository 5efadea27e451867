"""Parts of variance between and within vessels, against SciPy, by hand and by published looms."""

import pytest
from scipy import stats

from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.limits.groups.between import parts_of_variance, spread_between

UNEVEN = {"a": [1.0, 3.0], "b": [5.0, 6.0, 7.0, 6.0], "c": [2.0]}


def test_groups_of_any_size_by_hand() -> None:
    """n = 7, mean 30/7; between: 2(2 − 30/7)² + 4(6 − 30/7)² + (2 − 30/7)²; within: 2 + 2."""
    found = parts_of_variance(UNEVEN)
    mean = 30 / 7
    between = (2 * (2 - mean) ** 2 + 4 * (6 - mean) ** 2 + (2 - mean) ** 2) / 2
    assert found.mean_square_between == pytest.approx(between)
    assert found.mean_square_within == pytest.approx(4 / 4)
    assert (found.groups, found.readings, found.sum_of_squared_sizes) == (3, 7, 21)
    assert found.usual_size == pytest.approx((7 - 21 / 7) / 2)
    assert found.between == pytest.approx((between - 1) / 2)
    assert found.share == pytest.approx(found.between / (found.between + 1))
    assert found.largest_share == pytest.approx(4 / 7)
    assert found.worth == pytest.approx(7 / (1 + (3 - 1) * found.share))
    assert found.f_p == pytest.approx(float(stats.f_oneway(*UNEVEN.values()).pvalue))


def test_groups_that_differ_by_less_than_chance_differ_by_nothing() -> None:
    found = parts_of_variance({"a": [1, 9], "b": [2, 8]})
    assert (found.between, found.share, found.factor_between, found.worth) == (0, 0, 1, 4)


@pytest.mark.parametrize(
    ("groups", "share", "f_p", "worth"),
    [
        ({"a": [2, 2], "b": [2, 2]}, 0, 1, 4),
        # Whose mean is another number in its last digit.
        ({"a": [0.1] * 3, "b": [0.1] * 3}, 0, 1, 6),
        ({"a": [0.1] * 3, "b": [0.7] * 3}, 1, 0, 2),
        # All readings of a group alike: as much as one of each.
        ({"a": [1, 1], "b": [2, 2]}, 1, 0, 2),
    ],
)
def test_groups_without_spread_within(
    groups: dict[str, list[float]], share: float, f_p: float, worth: float
) -> None:
    found = parts_of_variance(groups)
    assert (found.share, found.f_p, found.worth) == (share, f_p, worth)


@pytest.mark.parametrize(
    "groups", [{}, {"a": [1, 2]}, {"a": [1], "b": [2]}, {"a": [1, 2], "b": []}]
)
def test_too_few_are_refused(groups: dict[str, list[float]]) -> None:
    with pytest.raises(TooFewReadings):
        parts_of_variance(groups)


def test_two_groups_one_of_them_with_two_are_enough() -> None:
    assert parts_of_variance({"a": [1, 2], "b": [5]}).groups == 2


def test_spread_of_readings_is_of_their_logs() -> None:
    """0 and 9 RLU are 0 and 1 in log10(RLU+1), 99 is 2."""
    found = spread_between({"a": [0, 9], "b": [9, 99]})
    assert found.mean_square_within == pytest.approx(0.5)
    assert found.mean_square_between == pytest.approx(1)
    assert found.factor_within == pytest.approx(10**0.5**0.5)
    assert found.factor_between == pytest.approx(10**0.25**0.5)

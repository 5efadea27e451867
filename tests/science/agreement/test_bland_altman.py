"""Limits of agreement where the papers' examples do not reach."""

import pytest

from brewhygiene.science.agreement.bland_altman import (
    bland_altman,
    limits_of_agreement,
    ratios_of,
    repeatability,
)
from brewhygiene.science.errors import OutOfRange, TooFewReadings


def test_readings_that_are_equal_differ_by_nothing() -> None:
    found = bland_altman(first=[1, 2, 3, 4], second=[1, 2, 3, 4])
    assert (found.bias, found.sd, found.limits, found.trend) == (0, 0, (0, 0), None)


def test_difference_that_grows_with_the_reading_is_seen() -> None:
    first = [1, 2, 4, 8, 16, 32]
    found = bland_altman(first=first, second=[value / 2 for value in first])
    assert found.trend == pytest.approx(1)


def test_sides_swapped_turn_the_sign() -> None:
    first, second = [3, 5, 9, 4], [2, 6, 7, 4]
    there = bland_altman(first=first, second=second)
    back = bland_altman(first=second, second=first)
    assert back.bias == -there.bias
    assert back.limits == pytest.approx((-there.limits[1], -there.limits[0]))


def test_two_pairs_are_too_few() -> None:
    with pytest.raises(TooFewReadings, match=r"2 pairs\. At least 3 are needed, 1 more\."):
        bland_altman(first=[1, 2], second=[1, 2])


def test_ratio_of_ten_is_one_decade() -> None:
    ratios = ratios_of(limits_of_agreement(bias=1, sd=0, pairs=5))
    assert (ratios.ratio, ratios.limits) == (10, (10, 10))


def test_ratio_beyond_all_numbers_is_refused() -> None:
    with pytest.raises(OutOfRange, match="too far apart"):
        ratios_of(limits_of_agreement(bias=200, sd=100, pairs=5))


def test_repeatability_takes_repeats() -> None:
    with pytest.raises(TooFewReadings, match="No point was read twice"):
        repeatability(readings=[[1], [2], [3]])


def test_repeatability_leaves_out_what_was_read_once() -> None:
    found = repeatability(readings=[[1, 3], [9], [5, 7]])
    assert (found.variance, found.subjects, found.degrees_of_freedom) == (2, 2, 2)

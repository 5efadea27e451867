"""Differences of shares and intervals of middles, held against other programs."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom
from statsmodels.stats.proportion import confint_proportions_2indep

from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.rates.difference import (
    LEAST_FOR_MIDDLE,
    middle_of,
    share_difference,
)

COUNTED = st.integers(1, 300).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n)))


@given(COUNTED, COUNTED)
def test_interval_is_that_of_another_program(one: tuple[int, int], other: tuple[int, int]) -> None:
    found = share_difference(
        count=one[0], number=one[1], other_count=other[0], other_number=other[1]
    )
    low, high = confint_proportions_2indep(*one, *other, method="newcomb", compare="diff")
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-9)
    assert found.low <= found.difference <= found.high


def test_change_is_told_only_where_the_interval_leaves_none_out() -> None:
    """20 of 20 against 10 of 20 is more than chance, 19 of 20 against 17 of 20 is not."""
    sure = share_difference(count=20, number=20, other_count=10, other_number=20)
    unsure = share_difference(count=19, number=20, other_count=17, other_number=20)
    assert (sure.is_significant, unsure.is_significant) == (True, False)


def test_nothing_counted_is_refused() -> None:
    with pytest.raises(OutOfRange):
        share_difference(count=0, number=0, other_count=1, other_number=2)


@pytest.mark.parametrize("number", [6, 7, 20, 55, 120, 999])
def test_interval_of_a_middle_is_the_narrowest_that_covers(number: int) -> None:
    found = middle_of(values=[float(n) for n in range(1, number + 1)])
    rank = int(found.low)
    assert (found.low, found.high) == (rank, number + 1 - rank)
    # Below the rank-th value with at most 2.5 %, below the next one with more.
    assert binom.cdf(rank - 1, number, 0.5) <= 0.025 < binom.cdf(rank, number, 0.5)


def test_rank_of_many_values_agrees_with_that_of_a_few_less() -> None:
    few, many = (middle_of(values=[float(n) for n in range(number)]) for number in (999, 1000))
    assert many.low == pytest.approx(few.low, abs=2)


def test_too_few_values_have_no_interval() -> None:
    with pytest.raises(TooFewReadings, match="5 values are too few"):
        middle_of(values=[1, 2, 3, 4, 5])
    assert middle_of(values=[1, 2, 3, 4, 5, 6]).number == LEAST_FOR_MIDDLE

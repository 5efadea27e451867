"""Shares and their intervals, held against another program and against their own promise."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.rates.proportions import wilson


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_interval_is_that_of_another_program(count_number: tuple[int, int]) -> None:
    count, number = count_number
    found = wilson(count=count, number=number)
    other = binomtest(count, number).proportion_ci(method="wilson")
    assert (found.low, found.high) == pytest.approx((other.low, other.high), abs=1e-9)
    assert found.low <= found.share <= found.high


@pytest.mark.parametrize("count, number", [(0, 9), (9, 9)])
def test_ends_are_exact_where_none_or_all_were_counted(count: int, number: int) -> None:
    found = wilson(count=count, number=number)
    assert (found.high if count else found.low) == (1.0 if count else 0.0)


@pytest.mark.parametrize("count, number", [(0, 0), (3, 2), (-1, 5)])
def test_no_share_of_nothing_or_of_more_than_there_is(count: int, number: int) -> None:
    with pytest.raises(OutOfRange):
        wilson(count=count, number=number)

"""Shares and their intervals, held against another program and against their own promise."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, binomtest

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.rates.proportions import clopper_pearson, none_in, wilson


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_intervals_are_those_of_another_program(count_number: tuple[int, int]) -> None:
    count, number = count_number
    for ours, method in ((wilson, "wilson"), (clopper_pearson, "exact")):
        found = ours(count=count, number=number)
        other = binomtest(count, number).proportion_ci(method=method)
        assert (found.low, found.high) == pytest.approx((other.low, other.high), abs=1e-9)
        assert found.low <= found.share <= found.high


@pytest.mark.parametrize("count, number", [(0, 9), (9, 9)])
def test_ends_are_exact_where_none_or_all_were_counted(count: int, number: int) -> None:
    for interval in (wilson, clopper_pearson):
        found = interval(count=count, number=number)
        assert (found.high if count else found.low) == (1.0 if count else 0.0)


@pytest.mark.parametrize("number, share", [(30, 0.2), (98, 0.9), (12, 0.97)])
def test_exact_interval_covers_at_least_as_often_as_it_says(number: int, share: float) -> None:
    covered = sum(
        binom.pmf(count, number, share)
        for count in range(number + 1)
        if (found := clopper_pearson(count=count, number=number)).low <= share <= found.high
    )
    assert covered >= 0.95


def test_none_in_so_many_is_the_one_sided_exact_bound() -> None:
    found = none_in(number=59)
    assert (1 - found.upper) ** 59 == pytest.approx(0.05)
    assert found.upper < 0.05 < none_in(number=58).upper
    assert none_in(number=2).rule_of_three == 1.0


@pytest.mark.parametrize("count, number", [(0, 0), (3, 2), (-1, 5)])
def test_no_share_of_nothing_or_of_more_than_there_is(count: int, number: int) -> None:
    for interval in (wilson, clopper_pearson):
        with pytest.raises(OutOfRange):
            interval(count=count, number=number)


def test_no_bound_from_nothing() -> None:
    with pytest.raises(OutOfRange, match="at least 1"):
        none_in(number=0)

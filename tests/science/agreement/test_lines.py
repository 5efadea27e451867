"""Deming's and Passing and Bablok's lines, held against other ways to the same number."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import theilslopes

from brewhygiene.science.agreement.deming import deming
from brewhygiene.science.agreement.passing_bablok import passing_bablok
from brewhygiene.science.errors import OutOfRange, TooFewReadings

RNG = np.random.default_rng(11)
X = RNG.normal(10, 3, 30)
Y = 2 + 0.8 * X + RNG.normal(0, 0.7, 30)


@pytest.mark.parametrize("ratio", [0.25, 1.0, 4.0])
def test_deming_is_total_least_squares(ratio: float) -> None:
    """By the singular value decomposition of the centred pairs, y in units of its error."""
    fit = deming(x=X.tolist(), y=Y.tolist(), error_ratio=ratio)
    scaled = np.column_stack([X - X.mean(), (Y - Y.mean()) / math.sqrt(ratio)])
    axis = np.linalg.svd(scaled)[2][0]
    slope = math.sqrt(ratio) * axis[1] / axis[0]
    assert fit.slope == pytest.approx(slope)
    assert fit.intercept == pytest.approx(Y.mean() - slope * X.mean())


def test_both_ways_to_write_the_error_ratio_give_one_line() -> None:
    first = deming(x=X.tolist(), y=Y.tolist(), error_ratio=4, ratio_is="y over x")
    second = deming(x=X.tolist(), y=Y.tolist(), error_ratio=0.25, ratio_is="x over y")
    assert first == second
    assert first.variance_ratio_y_to_x == 4


def test_sides_swapped_give_the_line_backwards() -> None:
    there = deming(x=X.tolist(), y=Y.tolist(), error_ratio=4)
    back = deming(x=Y.tolist(), y=X.tolist(), error_ratio=0.25)
    assert back.slope == pytest.approx(1 / there.slope)
    assert back.intercept == pytest.approx(-there.intercept / there.slope)


def test_leave_one_out_is_what_fitting_again_gives() -> None:
    fit = deming(x=X.tolist(), y=Y.tolist())
    again = deming(x=np.delete(X, 4).tolist(), y=np.delete(Y, 4).tolist())
    assert fit.without[4] == pytest.approx((again.intercept, again.slope))


def test_passing_bablok_of_rising_pairs_is_theil_and_sen() -> None:
    x = np.arange(1, 21.0)
    y = 3 * x + RNG.uniform(-1, 1, 20)
    fit = passing_bablok(x=x.tolist(), y=y.tolist())
    other = theilslopes(y, x)
    assert fit.offset == 0
    assert fit.slope == pytest.approx(other.slope)


def test_passing_bablok_treats_both_sides_alike() -> None:
    there = passing_bablok(x=X.tolist(), y=Y.tolist())
    back = passing_bablok(x=Y.tolist(), y=X.tolist())
    assert back.slope == pytest.approx(1 / there.slope, rel=0.01)
    assert back.ci_slope == pytest.approx((1 / there.ci_slope[1], 1 / there.ci_slope[0]), rel=0.02)


@given(st.permutations(range(30)))
def test_passing_bablok_does_not_mind_the_order(order: list[int]) -> None:
    x, y = np.round(X), np.round(Y)  # ties on both sides
    first = passing_bablok(x=x.tolist(), y=y.tolist())
    second = passing_bablok(x=x[order].tolist(), y=y[order].tolist())
    assert second == first


def test_a_bend_is_seen_and_a_straight_line_is_not_called_one() -> None:
    x = np.linspace(0, 10, 40)
    noise = np.random.default_rng(2).normal(0, 0.2, 40)
    straight = passing_bablok(x=x.tolist(), y=(x + noise).tolist())
    bent = passing_bablok(x=x.tolist(), y=(x**2 / 10 + noise).tolist())
    assert straight.linearity_p > 0.05
    assert bent.linearity_p < 0.01


def test_a_straight_line_is_called_bent_about_as_often_as_the_test_says() -> None:
    rng = np.random.default_rng(9)
    bent = 0
    for _ in range(400):
        level = rng.normal(0, 1, 30)
        x, y = (level + rng.normal(0, 0.2, 30) for _ in range(2))
        bent += passing_bablok(x=x.tolist(), y=y.tolist()).linearity_p < 0.05
    assert bent <= 0.05 * 400 + 3 * math.sqrt(400 * 0.05 * 0.95)


def test_jackknife_interval_of_the_line_covers_it() -> None:
    rng = np.random.default_rng(12)
    held = 0
    for _ in range(400):
        level = rng.normal(0, 1, 30)
        x, y = level + rng.normal(0, 0.3, 30), 1 + level + rng.normal(0, 0.3, 30)
        low, high = deming(x=x.tolist(), y=y.tolist()).interval_at(1.0)
        held += low <= 2.0 <= high
    assert 0.91 <= held / 400 <= 0.985


@pytest.mark.parametrize("fit", [deming, passing_bablok])
def test_lines_refuse_what_carries_none(fit: object) -> None:
    assert callable(fit)
    with pytest.raises(TooFewReadings, match=r"2 pairs\. At least 4 are needed, 2 more\."):
        fit(x=[1, 2], y=[1, 2])
    with pytest.raises(OutOfRange, match="All readings of the second method are equal"):
        fit(x=[1, 2, 3, 4, 5], y=[7] * 5)
    with pytest.raises(OutOfRange, match="5 readings on one side and 4 on the other"):
        fit(x=[1, 2, 3, 4, 5], y=[1, 2, 3, 4])
    with pytest.raises(OutOfRange, match="must be a finite number"):
        fit(x=[1, 2, 3, math.nan, 5], y=[1, 2, 3, 4, 5])
    with pytest.raises(OutOfRange):
        fit(x=[1, 2, 3, 4, 5, 6], y=[6, 5, 4.5, 3, 2, 0])


def test_line_on_one_pair_alone_is_refused() -> None:
    with pytest.raises(OutOfRange, match="One pair alone makes the line"):
        deming(x=[0, 0, 1, 1, 50], y=[1, 0, 1, 0, 50])


def test_pairs_that_are_nearly_all_the_same_are_refused() -> None:
    with pytest.raises(OutOfRange, match="interval has no end"):
        passing_bablok(x=[0, 0, 0, 1], y=[0, 0, 0, 0.9])


def test_slopes_of_exactly_minus_one_count_for_nothing() -> None:
    with pytest.raises(OutOfRange, match="do not rise together"):
        passing_bablok(x=[1, 2, 3, 4], y=[4, 3, 2, 1])

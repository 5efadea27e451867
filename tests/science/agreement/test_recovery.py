"""Recovery of a positive in a sanitiser: against SciPy's Welch interval, and its bounds."""

import math

import numpy as np
import pytest
from scipy import stats

from brewhygiene.science.agreement.recovery import ACCEPTED, Recovery, recovery_of
from brewhygiene.science.errors import OutOfRange, TooFewReadings

WATER = [1040, 985, 1120, 890, 1010, 960]
SANITISER = [870, 930, 790, 905, 840, 880]


@pytest.mark.parametrize("blanks", [(0.0, 0.0), (1.0, 1 / 3), (40.0, 2.0)])
def test_interval_is_that_of_welchs_t_on_the_logarithms(blanks: tuple[float, float]) -> None:
    of_water, of_sanitiser = blanks
    found = recovery_of(
        water=WATER, sanitiser=SANITISER, water_blank=of_water, sanitiser_blank=of_sanitiser
    )
    logs = np.log(np.array(SANITISER) - of_sanitiser), np.log(np.array(WATER) - of_water)
    interval = stats.ttest_ind(*logs, equal_var=False).confidence_interval(0.90)
    assert found.low == pytest.approx(math.exp(interval.low), rel=1e-9)
    assert found.high == pytest.approx(math.exp(interval.high), rel=1e-9)
    assert found.ratio == pytest.approx(math.exp(logs[0].mean() - logs[1].mean()), rel=1e-12)


def test_readings_of_unlike_number_and_spread() -> None:
    water, sanitiser = [200, 210, 190, 205, 195], [150, 90, 260]
    found = recovery_of(water=water, sanitiser=sanitiser)
    interval = stats.ttest_ind(np.log(sanitiser), np.log(water), equal_var=False)
    assert found.degrees_of_freedom == pytest.approx(interval.df, rel=1e-9)
    assert found.low == pytest.approx(math.exp(interval.confidence_interval(0.9).low), rel=1e-9)


@pytest.mark.parametrize(
    ("low", "high", "proved"),
    [
        (0.80, 1.25, True),
        (0.7999, 1.25, False),
        (0.80, 1.2501, False),
        (1.0, 1.0, True),
        (0.5, 0.9, False),
        (1.1, 1.6, False),
    ],
)
def test_the_whole_interval_has_to_lie_inside(low: float, high: float, proved: bool) -> None:
    assert Recovery(math.sqrt(low * high), low, high, 9).proved is proved
    assert ACCEPTED == (0.80, 1.25)


@pytest.mark.parametrize("dark", [0, 2])
def test_a_reading_no_higher_than_its_blank_recovers_nothing(dark: int) -> None:
    found = recovery_of(water=WATER, sanitiser=[870, 930, dark], sanitiser_blank=2)
    assert (found.ratio, found.low, found.high, found.proved) == (0, 0, 0, False)
    lit = recovery_of(water=WATER, sanitiser=[870, 930, 3], sanitiser_blank=2)
    assert 0 < lit.low < lit.ratio


def test_readings_without_any_spread_have_no_interval() -> None:
    found = recovery_of(water=[100, 100, 100], sanitiser=[90, 90, 90])
    assert (found.ratio, found.low, found.high) == (pytest.approx(0.9),) * 3
    assert found.degrees_of_freedom is None


def test_three_readings_of_each_are_the_least() -> None:
    assert recovery_of(water=WATER[:3], sanitiser=SANITISER[:3]).ratio > 0
    for water, sanitiser in ((WATER[:2], SANITISER), (WATER, SANITISER[:2])):
        with pytest.raises(TooFewReadings):
            recovery_of(water=water, sanitiser=sanitiser)


@pytest.mark.parametrize("weak", [0, 1])
def test_a_positive_no_higher_than_the_blank_in_water_is_none(weak: int) -> None:
    with pytest.raises(OutOfRange):
        recovery_of(water=[1040, 985, weak], sanitiser=SANITISER, water_blank=1)

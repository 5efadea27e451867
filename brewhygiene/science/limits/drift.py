"""Whether the readings moved while the baseline was taken."""

import dataclasses
import math
from collections.abc import Sequence

from brewhygiene.science.errors import OutOfRange, TooFewReadings

LEAST_READINGS = 10
SIGNIFICANCE = 0.05


@dataclasses.dataclass(frozen=True)
class Drift:
    """Trend and steadiness of log10(RLU+1) in the order of time.

    ``trend_p`` by Mann and Kendall, ``factor_per_30_days`` the Theil–Sen slope as the factor of
    RLU + 1 in 30 days with its 95 % interval; ``runs_p`` by Wald and Wolfowitz: whether readings
    above and below the median come in too few, too long runs (one-sided). ``None`` where the
    readings do not carry that test. p values are shares of 1.
    """

    trend_p: float
    factor_per_30_days: float
    factor_low: float
    factor_high: float
    runs_p: float | None
    longest_run: int

    @property
    def moved(self) -> bool:
        return self.trend_p < SIGNIFICANCE

    @property
    def in_spells(self) -> bool:
        return self.runs_p is not None and self.runs_p < SIGNIFICANCE


def drift_of(*, days: Sequence[float], logs: Sequence[float]) -> Drift:
    """Drift of ``logs``, log10(RLU+1), taken at ``days`` (in d; any order, any start).

    Raises :class:`TooFewReadings` below ten, and :class:`OutOfRange` where all were taken at one
    time or all are alike.

    >>> steady = drift_of(days=range(12), logs=[0.3, 0.5, 0.4, 0.6, 0.3, 0.5] * 2)
    >>> steady.moved
    False
    """
    import numpy as np
    from scipy import stats

    if len(logs) < LEAST_READINGS:
        raise TooFewReadings(
            f"{len(logs)} readings do not show a trend. {LEAST_READINGS} are needed."
        )
    order = np.argsort(np.asarray(days, dtype=float), kind="stable")
    when = np.asarray(days, dtype=float)[order]
    values = np.asarray(logs, dtype=float)[order]
    if np.ptp(when) == 0:
        raise OutOfRange("All readings were taken at one time, so there is no trend.")
    if np.ptp(values) == 0:
        raise OutOfRange("All readings are equal, so there is no trend.")
    slope, _, low, high = stats.theilslopes(values, when, alpha=0.95)
    runs_p, longest = _runs(values)
    return Drift(
        trend_p=float(stats.kendalltau(when, values).pvalue),
        factor_per_30_days=_factor(slope),
        factor_low=_factor(low),
        factor_high=_factor(high),
        runs_p=runs_p,
        longest_run=longest,
    )


def _factor(slope_per_d: float) -> float:
    return float(10 ** min(max(30 * slope_per_d, -12.0), 12.0))


def _runs(values: object) -> tuple[float | None, int]:
    """Wald and Wolfowitz's p for too few runs about the median, and the longest run."""
    import numpy as np
    from scipy import stats

    numbers = np.asarray(values, dtype=float)
    middle = np.median(numbers)
    above = numbers[numbers != middle] > middle
    n1, n0 = int(above.sum()), int((~above).sum())
    if len(above) == 0:
        return None, 0
    ends = np.flatnonzero(np.diff(above.astype(int)) != 0)
    lengths = np.diff(np.concatenate(([-1], ends, [len(above) - 1])))
    longest = int(lengths.max())
    if min(n1, n0) < 5:
        return None, longest
    n = n1 + n0
    expected = 2 * n1 * n0 / n + 1
    variance = 2 * n1 * n0 * (2 * n1 * n0 - n) / (n**2 * (n - 1))
    z = (len(lengths) + 0.5 - expected) / math.sqrt(variance)
    return float(stats.norm.cdf(z)), longest

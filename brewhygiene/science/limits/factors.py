"""The exact one-sided tolerance factor of a normal distribution."""

import functools
import math

from brewhygiene.science.errors import require


@functools.lru_cache(maxsize=512)
def normal_factor(*, readings: int, coverage: float, confidence: float) -> float:
    """k for which mean + k SD of ``readings`` normal readings is an upper tolerance bound.

    With ``confidence`` at least ``coverage`` of the population (shares of 1) lies below it. From
    the noncentral t distribution, exact [1]_; no unit, as k counts SDs in whatever unit the
    readings have. Raises :class:`OutOfRange` below 2 readings.

    >>> round(normal_factor(readings=20, coverage=0.95, confidence=0.95), 3)
    2.396

    References
    ----------
    .. [1] Natrella M.G., Experimental Statistics, NBS Handbook 91 (1963), 2-2 (from memory).
    """
    from scipy import stats

    require("number of readings", readings, minimum=2)
    require("coverage", coverage, minimum=0.5, maximum=0.9999)
    require("confidence", confidence, minimum=0.5, maximum=0.9999)
    off = float(stats.norm.ppf(coverage)) * math.sqrt(readings)
    return float(stats.nct.ppf(confidence, readings - 1, off)) / math.sqrt(readings)

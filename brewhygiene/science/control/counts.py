"""Charts of counts (c) and of shares of a fixed number (p)."""

import dataclasses
import math
from collections.abc import Sequence

from brewhygiene.science.errors import OutOfRange, TooFewReadings

WIDTH = 3.0


@dataclasses.dataclass(frozen=True)
class CountChart:
    """``centre`` and limits, in counts or as a share from 0 to 1; ``outside`` are places."""

    centre: float
    lower: float
    upper: float
    outside: tuple[int, ...]


def _chart(values: Sequence[float], centre: float, sigma: float) -> CountChart:
    lower, upper = max(0.0, centre - WIDTH * sigma), centre + WIDTH * sigma
    # What is on a limit to the last digits is not beyond it.
    slack = 1e-9 * max(1.0, upper)
    outside = (i for i, v in enumerate(values) if v > upper + slack or v < lower - slack)
    return CountChart(centre, lower, upper, tuple(outside))


def c_chart(counts: Sequence[int]) -> CountChart:
    """Limits of counts per unit: mean ± 3 √mean.

    ``counts`` whole numbers from 0. Holds where they are Poisson; where they spread more, it
    alarms too often. Raises :class:`TooFewReadings` with fewer than 2 or none above 0,
    :class:`OutOfRange` for a count below 0.

    >>> chart = c_chart([16, 14, 28, 16, 6])
    >>> chart.centre, chart.upper
    (16.0, 28.0)

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods (2012), 6.3.3.1.
    """
    _check(counts)
    centre = sum(counts) / len(counts)
    return _chart(counts, centre, math.sqrt(centre))


def p_chart(counts: Sequence[int], *, of: int) -> CountChart:
    """Limits of shares: p ± 3 √(p (1 - p) / of).

    ``counts`` whole numbers from 0 to ``of``, the number looked at each time. Raises
    :class:`TooFewReadings` with fewer than 2 or none above 0, :class:`OutOfRange` for a count
    that cannot be.

    >>> round(p_chart([12, 15, 8, 10], of=50).centre, 3)
    0.225

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods (2012), 6.3.3.2.
    """
    _check(counts)
    if of < 1 or max(counts) > of:
        raise OutOfRange(f"A count of {max(counts)} is above the total of {of}.", quantity="count")
    centre = sum(counts) / (len(counts) * of)
    return _chart([count / of for count in counts], centre, math.sqrt(centre * (1 - centre) / of))


def _check(counts: Sequence[int]) -> None:
    if len(counts) < 2:
        raise TooFewReadings(f"{len(counts)} counted so far. A chart of counts needs at least 2.")
    if min(counts) < 0:
        raise OutOfRange(f"A count of {min(counts)} is below 0.", quantity="count")
    if max(counts) == 0:
        raise TooFewReadings("Nothing was counted yet. Limits need at least one count above 0.")

"""Centre and spread of single readings, and the chart of readings and their moving ranges."""

import dataclasses
import itertools
import math
from collections.abc import Sequence

from brewhygiene.science.errors import OutOfRange, TooFewReadings

# Constants for ranges of two: 2/sqrt(pi) and the usual D4, to the digits that are printed.
D2 = 1.128
D4 = 3.267
WIDTH = 3.0
# So few readings say next to nothing about their own spread.
LEAST_FOR_LIMITS = 12
# No more of a baseline may be set aside than this share: else it was not in control.
MOST_SET_ASIDE = 0.2


@dataclasses.dataclass(frozen=True)
class Individuals:
    """Limits of single readings: ``centre`` ± 3 ``sigma``, all in the unit of the readings.

    ``moving_range_mean`` and ``moving_range_upper`` belong to the chart of moving ranges;
    ``by_ranges`` says that sigma is MR-bar/1.128, else it is the SD of the readings (``why``).
    ``used`` is the number of readings and ``set_aside`` the places of those left out.
    """

    centre: float
    sigma: float
    lower: float
    upper: float
    moving_range_mean: float
    moving_range_upper: float
    used: int
    by_ranges: bool = True
    why: str = ""
    set_aside: tuple[int, ...] = ()


def moving_ranges(values: Sequence[float]) -> tuple[float, ...]:
    """The distance of each reading from the one before it, in the unit of ``values``.

    >>> moving_ranges([1, 4, 2])
    (3, 2)
    """
    return tuple(abs(b - a) for a, b in itertools.pairwise(values))


def _c4(n: int) -> float:
    """What the SD of ``n`` normal readings is of sigma, on average."""
    return math.sqrt(2 / (n - 1)) * math.exp(math.lgamma(n / 2) - math.lgamma((n - 1) / 2))


def _finite(values: Sequence[float]) -> list[float]:
    found = [float(value) for value in values]
    for value in found:
        if not math.isfinite(value):
            raise OutOfRange(f"The reading {value} is not a number.", quantity="reading")
    return found


def individuals(
    values: Sequence[float], *, least: int = 2, least_sigma: float = 0.0
) -> Individuals:
    """Limits of an individuals and moving range chart, sigma from MR-bar/1.128.

    Where more than half of the moving ranges are 0, neighbours are alike (many readings of 0) and
    the ranges read too little: the SD of the readings over c4 is used then, and ``why`` says so.

    ``values`` in any unit, in time order; at ``least`` so many; ``least_sigma``, in the same
    unit, is what rounding alone gives, below which no spread is believed. Its limits hold for
    independent, normal readings. Raises :class:`TooFewReadings` with fewer readings or where all
    are equal, :class:`OutOfRange` for a reading that is no finite number.

    >>> chart = individuals([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.centre, 2), round(chart.lower, 4), round(chart.upper, 4)
    (50.81, 45.8159, 55.8041)

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods (2012), 6.3.2.2.
    """
    x = _finite(values)
    n = len(x)
    if n < max(least, 2):
        more = max(least, 2) - n
        raise TooFewReadings(f"{_count(n)} so far. Limits need {max(least, 2)}, {more} more.")
    if max(x) == min(x):
        raise TooFewReadings(
            f"All {n} readings are equal, so their variation is unknown. Limits appear once "
            "readings differ."
        )
    centre = math.fsum(x) / n
    ranges = moving_ranges(x)
    mean_range = math.fsum(ranges) / len(ranges)
    alike = sum(one == 0 for one in ranges)
    by_ranges, why = True, ""
    if 2 * alike > len(ranges):
        by_ranges = False
        why = (
            f"{alike} of {len(ranges)} moving ranges are 0, which makes the variation too small. "
            "The SD of all readings is used instead."
        )
        sigma = math.sqrt(math.fsum((one - centre) ** 2 for one in x) / (n - 1)) / _c4(n)
        mean_range = sigma * D2
    else:
        sigma = mean_range / D2
    if sigma < least_sigma:
        by_ranges = False
        why = "The readings vary less than rounding does. The spread of rounding is used."
        sigma = least_sigma
        mean_range = sigma * D2
    return Individuals(
        centre=centre,
        sigma=sigma,
        lower=centre - WIDTH * sigma,
        upper=centre + WIDTH * sigma,
        moving_range_mean=mean_range,
        moving_range_upper=D4 * mean_range,
        used=n,
        by_ranges=by_ranges,
        why=why,
    )


def _count(n: int) -> str:
    return f"{n} reading" if n == 1 else f"{n} readings"


def phase_one(
    values: Sequence[float], *, least: int = LEAST_FOR_LIMITS, least_sigma: float = 0.0
) -> Individuals:
    """Centre and spread of a baseline, without the readings outside its own limits.

    Readings beyond 3 sigma of the rest are set aside, in rounds, never more than a fifth of them
    and never below ``least``; their places are in ``set_aside``. Else a single bad clean would
    widen the limits for all that follow.

    ``values`` and ``least_sigma`` in one unit, as in :func:`individuals`, whose errors it raises.

    >>> phase_one([0.4, 0.6, 0.5, 0.3, 0.5, 0.6, 3.9, 0.4, 0.5, 0.7, 0.5, 0.4, 0.6]).set_aside
    (6,)
    """
    x = _finite(values)
    kept = list(range(len(x)))
    found = individuals(x, least=least, least_sigma=least_sigma)
    most = int(MOST_SET_ASIDE * len(x))
    while True:
        outside = [i for i in kept if not found.lower <= x[i] <= found.upper]
        if (
            not outside
            or len(x) - len(kept) + len(outside) > most
            or len(kept) - len(outside) < least
        ):
            break
        remaining = [i for i in kept if i not in outside]
        if len({x[i] for i in remaining}) == 1:
            break
        kept = remaining
        found = individuals([x[i] for i in kept], least=least, least_sigma=least_sigma)
    aside = tuple(i for i in range(len(x)) if i not in kept)
    return dataclasses.replace(found, set_aside=aside)

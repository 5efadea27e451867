"""Bounds that need no distribution: the largest readings, and how many readings they take."""

import math

from brewhygiene.science.errors import require


def rank_confidence(*, readings: int, coverage: float, rank: int = 1) -> float:
    """How surely (a share of 1) the ``rank``-th largest of ``readings`` readings covers.

    The chance that at least ``coverage`` (a share of 1) of the population lies at or below it:
    P(at most n - rank of n lie below the quantile), binomial [1]_. Holds in any unit, RLU
    included, and for tied and discrete readings at least. Raises :class:`OutOfRange` for a rank
    that no reading has.

    >>> round(rank_confidence(readings=24, coverage=0.95), 4)
    0.708

    References
    ----------
    .. [1] Wilks S.S., Annals of Mathematical Statistics 12 (1941) 91-96.
    """
    from scipy import stats

    require("number of readings", readings, minimum=1)
    require("rank", rank, minimum=1, maximum=readings)
    require("coverage", coverage, minimum=0, maximum=1, above=True)
    return float(stats.binom.cdf(readings - rank, readings, coverage))


def readings_needed(*, coverage: float, confidence: float, rank: int = 1) -> int:
    """The fewest readings of which the ``rank``-th largest is an upper tolerance bound.

    ``coverage`` and ``confidence`` are shares of 1; the unit does not matter.

    >>> readings_needed(coverage=0.95, confidence=0.95)
    59
    """
    require("coverage", coverage, minimum=0.01, maximum=0.9999)
    require("confidence", confidence, minimum=0.01, maximum=0.9999)
    low = max(rank, math.ceil(math.log(1 - confidence) / math.log(coverage))) - 1
    high = low + 1
    while rank_confidence(readings=high, coverage=coverage, rank=rank) < confidence:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        enough = middle >= rank and (
            rank_confidence(readings=middle, coverage=coverage, rank=rank) >= confidence
        )
        low, high = (low, middle) if enough else (middle, high)
    return high


def bounding_rank(*, readings: int, coverage: float, confidence: float) -> int | None:
    """The rank, from the largest, of the lowest of ``readings`` that is still such a bound.

    ``coverage`` and ``confidence`` are shares of 1, the unit does not matter; ``None`` where
    even the largest is none.

    >>> bounding_rank(readings=93, coverage=0.95, confidence=0.95)
    2
    >>> bounding_rank(readings=58, coverage=0.95, confidence=0.95) is None
    True
    """
    rank = 0
    while rank < readings and (
        rank_confidence(readings=readings, coverage=coverage, rank=rank + 1) >= confidence
    ):
        rank += 1
    return rank or None


def readings_for_percentile(*, coverage: float) -> int:
    """The fewest readings among which a percentile lies: beyond the largest nothing is known.

    The ``coverage`` (share of 1) percentile, in any unit, has the place (n + 1) p among n
    readings.

    >>> readings_for_percentile(coverage=0.95), readings_for_percentile(coverage=0.99)
    (19, 99)
    """
    require("coverage", coverage, minimum=0.5, maximum=0.9999)
    return math.ceil(round(coverage / (1 - coverage), 6))

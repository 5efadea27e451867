"""Whether two shares, or two middles, differ by more than chance explains."""

import dataclasses
import math
from collections.abc import Sequence
from statistics import median

from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.rates.proportions import CONFIDENCE, wilson

# Below six values no interval of two of them holds the middle 95 times in a hundred.
LEAST_FOR_MIDDLE = 6


@dataclasses.dataclass(frozen=True)
class Difference:
    """One share less another (−1 to 1), with the interval from ``low`` to ``high``."""

    difference: float
    low: float
    high: float

    @property
    def is_significant(self) -> bool:
        """Whether chance alone is no likely explanation: the interval leaves 0 out."""
        return self.low > 0 or self.high < 0


def share_difference(
    *, count: int, number: int, other_count: int, other_number: int, confidence: float = CONFIDENCE
) -> Difference:
    """The share ``count`` in ``number`` less ``other_count`` in ``other_number`` (units counted).

    ``confidence`` is a share, 0.5–0.9999. The interval joins Wilson's of the two [1]_ and holds
    near 0 and 1. Raises :class:`OutOfRange` where nothing was counted or more than there are.

    >>> found = share_difference(count=56, number=70, other_count=48, other_number=80)
    >>> round(found.difference, 4), round(found.low, 4), round(found.high, 4)
    (0.2, 0.0524, 0.3339)

    References
    ----------
    .. [1] R. G. Newcombe, Interval estimation for the difference between independent
           proportions, Stat. Med. 17 (1998) 873-890, method 10 (from memory).
    """
    one = wilson(count=count, number=number, confidence=confidence)
    other = wilson(count=other_count, number=other_number, confidence=confidence)
    difference = one.share - other.share
    return Difference(
        difference,
        difference - math.hypot(one.share - one.low, other.high - other.share),
        difference + math.hypot(one.high - one.share, other.share - other.low),
    )


@dataclasses.dataclass(frozen=True)
class Middle:
    """The median of ``number`` values in their unit, with the interval from ``low`` to ``high``."""

    number: int
    middle: float
    low: float
    high: float


def middle_of(*, values: Sequence[float], confidence: float = CONFIDENCE) -> Middle:
    """The median of ``values`` (any one unit) with an interval between two of them [1]_.

    It asks nothing of how the values are spread; it covers at least ``confidence``, a share,
    0.5–0.9999. Raises :class:`TooFewReadings` where even the least and the greatest do not.

    >>> middle_of(values=[1, 2, 3, 4, 5, 6, 7, 8, 9])
    Middle(number=9, middle=5, low=2, high=8)

    References
    ----------
    .. [1] G. J. Hahn, W. Q. Meeker, Statistical Intervals, section 5.2 (from memory): the number
           of values below the median is binomial with one half.
    """
    number = len(values)
    left_out = (1 - confidence) / 2
    below, part = 0.0, 0.5**number if number < 1000 else 0.0
    rank = 0
    # The greatest rank whose value the median undercuts with at most half of what is left out.
    if number < 1000:
        while below + part <= left_out:
            below += part
            part *= (number - rank) / (rank + 1)
            rank += 1
    else:
        rank = math.floor(number / 2 - 1.96 * math.sqrt(number) / 2)
    if rank < 1:
        raise TooFewReadings(
            f"{number} values are too few for an interval of their median. {LEAST_FOR_MIDDLE} are "
            "needed."
        )
    ordered = sorted(values)
    return Middle(number, median(ordered), ordered[rank - 1], ordered[number - rank])

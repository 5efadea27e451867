"""A share of so many, and how far the true share may be from it."""

import dataclasses
import math
from statistics import NormalDist

from brewhygiene.science.errors import OutOfRange, require

CONFIDENCE = 0.95


@dataclasses.dataclass(frozen=True)
class Share:
    """``count`` of ``number``, as a share, with the interval from ``low`` to ``high`` (0 to 1)."""

    count: int
    number: int
    share: float
    low: float
    high: float


def wilson(*, count: int, number: int, confidence: float = CONFIDENCE) -> Share:
    """The share of ``count`` in ``number`` (units counted) with Wilson's score interval [1]_.

    ``confidence`` is a share, 0.5–0.9999, as 0.95. The interval covers about as often as it
    says even near 0 and 1, where the usual one of ± so many standard errors does not. Raises
    :class:`OutOfRange` where nothing was counted or more than there are.

    >>> found = wilson(count=81, number=263)
    >>> round(found.low, 4), round(found.high, 4)
    (0.2553, 0.3662)

    References
    ----------
    .. [1] E. B. Wilson, Probable inference, the law of succession, and statistical inference,
           J. Am. Stat. Assoc. 22 (1927) 209-212 (from memory); method 3 of R. G. Newcombe,
           Stat. Med. 17 (1998) 857-872.
    """
    _require_counts(count, number)
    z = NormalDist().inv_cdf(0.5 + _confidence(confidence) / 2)
    share = count / number
    middle = share + z * z / (2 * number)
    half = z * math.sqrt(share * (1 - share) / number + z * z / (4 * number * number))
    scale = 1 + z * z / number
    # With none or all counted that end is exact; the sum would leave a rounding behind.
    low = 0.0 if count == 0 else (middle - half) / scale
    high = 1.0 if count == number else (middle + half) / scale
    return Share(count, number, share, low, high)


def _require_counts(count: int, number: int) -> None:
    require("number", number, minimum=1, maximum=1e9)
    if not 0 <= count <= number:
        raise OutOfRange(f"{count} of {number} is not a share. Enter a count from 0 to {number}.")


def _confidence(confidence: float) -> float:
    return require("confidence", confidence, minimum=0.5, maximum=0.9999)

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


def clopper_pearson(*, count: int, number: int, confidence: float = CONFIDENCE) -> Share:
    """The share of ``count`` in ``number`` (units counted) with the exact interval [1]_.

    ``confidence`` is a share, 0.5–0.9999. It covers at least as often as it says, and so is
    wider than Wilson's. Raises :class:`OutOfRange` where nothing was counted or more than
    there are.

    >>> found = clopper_pearson(count=0, number=20)
    >>> found.low, round(found.high, 4)
    (0.0, 0.1684)

    References
    ----------
    .. [1] C. J. Clopper, E. S. Pearson, The use of confidence or fiducial limits illustrated in
           the case of the binomial, Biometrika 26 (1934) 404-413 (from memory).
    """
    _require_counts(count, number)
    from scipy.special import betaincinv  # a fifth of a second that other pages need not wait for

    left_out = (1 - _confidence(confidence)) / 2
    low = float(betaincinv(count, number - count + 1, left_out)) if count else 0.0
    high = float(betaincinv(count + 1, number - count, 1 - left_out)) if count < number else 1.0
    return Share(count, number, count / number, low, high)


@dataclasses.dataclass(frozen=True)
class NoneInSoMany:
    """None in ``number``: the share may still be up to ``upper``; ``rule_of_three`` is 3 / n."""

    number: int
    upper: float
    rule_of_three: float


def none_in(*, number: int, confidence: float = CONFIDENCE) -> NoneInSoMany:
    """How large a share may be of which none was seen in ``number`` (units counted) [1]_.

    One-sided: 1 - (1 - ``confidence``)^(1/n), with the confidence as a share, 0.5–0.9999. The
    rule of three, 3/n, stands for 95 % and is close from about 30 on. Raises
    :class:`OutOfRange` below one unit.

    >>> round(none_in(number=20).upper, 4), none_in(number=20).rule_of_three
    (0.1391, 0.15)

    References
    ----------
    .. [1] J. A. Hanley, A. Lippman-Hand, If nothing goes wrong, is everything all right?
           JAMA 249 (1983) 1743-1745 (from memory).
    """
    require("number", number, minimum=1)
    return NoneInSoMany(
        number=number,
        upper=-math.expm1(math.log1p(-_confidence(confidence)) / number),
        rule_of_three=min(1.0, 3 / number),
    )


def _require_counts(count: int, number: int) -> None:
    require("number", number, minimum=1, maximum=1e9)
    if not 0 <= count <= number:
        raise OutOfRange(f"{count} of {number} is not a share. Enter a count from 0 to {number}.")


def _confidence(confidence: float) -> float:
    return require("confidence", confidence, minimum=0.5, maximum=0.9999)

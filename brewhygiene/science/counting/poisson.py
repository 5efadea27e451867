"""How far a count of rare things may be from its mean: exact Poisson intervals."""

import dataclasses
import math

from brewhygiene.science.errors import require

CONFIDENCE = 0.95


@dataclasses.dataclass(frozen=True)
class Interval:
    """From ``low`` to ``high`` in the unit of the value it belongs to; both are finite."""

    low: float
    high: float

    def times(self, factor: float) -> "Interval":
        """The same in another unit, ``factor`` of it to one of this."""
        return Interval(self.low * factor, self.high * factor)


def poisson_interval(*, count: float, confidence: float = CONFIDENCE) -> Interval:
    """The exact (Garwood) two-sided interval of a Poisson mean from one ``count``, in units of it.

    χ² quantiles at half of what ``confidence`` (a share, 0.5–0.9999) leaves out: with
    2·count and 2·count + 2 degrees of freedom [1]_. It covers at least as often as it says.
    Raises :class:`OutOfRange` below 0.

    >>> found = poisson_interval(count=10)
    >>> round(found.low, 2), round(found.high, 2)
    (4.8, 18.39)

    References
    ----------
    .. [1] F. Garwood, Fiducial limits for the Poisson distribution, Biometrika 28 (1936) 437-442.
    """
    from scipy.special import gammaincinv  # a fifth of a second that other pages need not wait for

    _require_count(count)
    left_out = (1 - _share(confidence)) / 2
    low = float(gammaincinv(count, left_out)) if count > 0 else 0.0
    return Interval(low, float(gammaincinv(count + 1, 1 - left_out)))


def poisson_upper(*, count: float, confidence: float = CONFIDENCE) -> float:
    """The exact one-sided upper bound of a Poisson mean from one ``count``, in units of it.

    With nothing counted it is -ln(1 - ``confidence``), 3.0 at 95 % [1]_. Raises
    :class:`OutOfRange` below 0.

    >>> round(poisson_upper(count=0), 4)
    2.9957

    References
    ----------
    .. [1] J. A. Hanley, A. Lippman-Hand, If nothing goes wrong, is everything all right?
           JAMA 249 (1983) 1743-1745: the rule of three (from memory).
    """
    _require_count(count)
    if count == 0:
        return -math.log1p(-_share(confidence))
    from scipy.special import gammaincinv

    return float(gammaincinv(count + 1, _share(confidence)))


def _require_count(count: float) -> None:
    require("count", count, minimum=0, maximum=1e9)


def _share(confidence: float) -> float:
    return require("confidence", confidence, minimum=0.5, maximum=0.9999)

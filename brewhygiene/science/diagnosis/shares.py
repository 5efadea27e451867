"""A share of cases with its intervals."""

import dataclasses

from brewhygiene.science.counting.poisson import CONFIDENCE, Interval
from brewhygiene.science.errors import OutOfRange, TooFewReadings


@dataclasses.dataclass(frozen=True)
class Share:
    """``count`` of ``of`` cases. ``interval`` is Wilson's, ``exact`` Clopper and Pearson's."""

    count: int
    of: int
    interval: Interval
    exact: Interval

    @property
    def value(self) -> float:
        return self.count / self.of


def share_of(*, count: int, of: int, confidence: float = CONFIDENCE) -> Share:
    """``count`` of ``of`` cases, with its intervals at ``confidence``, all shares from 0 to 1.

    Raises :class:`TooFewReadings` of no case and :class:`OutOfRange` for more than there are.

    >>> found = share_of(count=81, of=263)
    >>> round(found.interval.low, 4), round(found.interval.high, 4)
    (0.2553, 0.3662)

    References
    ----------
    .. [1] R. G. Newcombe, Stat. Med. 17 (1998) 857-872: methods 3 and 5.
    """
    if of < 1:
        raise TooFewReadings("There are no cases. A share needs at least one.")
    if not 0 <= count <= of:
        raise OutOfRange(
            f"{count} cases are more than the {of} in all.", value=count, minimum=0, maximum=of
        )
    from scipy.stats import binomtest  # a second that other pages need not wait for

    found = binomtest(count, of)
    wilson, exact = (
        found.proportion_ci(confidence_level=confidence, method=name)
        for name in ("wilson", "exact")
    )
    return Share(
        count,
        of,
        Interval(max(0.0, float(wilson.low)), min(1.0, float(wilson.high))),
        Interval(float(exact.low), float(exact.high)),
    )

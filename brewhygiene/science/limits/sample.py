"""Readings from which limits are worked out, and when nothing can be."""

import dataclasses
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from brewhygiene.quantities.style import digits
from brewhygiene.science.errors import OutOfRange, TooFewReadings, require

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from brewhygiene.science.errors import FloatArray

    IntArray = NDArray[np.int64]

LEAST_READINGS = 10  # common practice, no source
MOST_READINGS = 1000


@dataclasses.dataclass(frozen=True)
class Sample:
    """Whole RLU of one scale, in the order in which they were given."""

    rlu: tuple[int, ...]

    @property
    def size(self) -> int:
        return len(self.rlu)

    @property
    def zeros(self) -> int:
        return self.rlu.count(0)

    def array(self) -> "IntArray":
        """The readings, RLU, as an array."""
        import numpy as np

        return np.asarray(self.rlu, dtype=np.int64)

    def without(self, places: Sequence[int]) -> "Sample":
        """The readings, RLU, without those at ``places`` (from 0)."""
        left_out = set(places)
        return Sample(tuple(x for place, x in enumerate(self.rlu) if place not in left_out))


def log_rlu(rlu: float) -> float:
    """log10(RLU+1) of ``rlu`` RLU: readings grow by factors, and 0 RLU has to have a place.

    >>> log_rlu(0), log_rlu(99)
    (0.0, 2.0)
    """
    return math.log10(rlu + 1)


def rlu_of_log(log: float) -> float:
    """The RLU of which ``log`` is log10(RLU+1).

    >>> rlu_of_log(2.0)
    99.0
    """
    return float(10**log - 1)


def logs_of(rlu: "IntArray") -> "FloatArray":
    """log10(RLU+1) of each of ``rlu``, RLU."""
    import numpy as np

    return np.log1p(rlu) / math.log(10)


def whole_rlu(value_rlu: float) -> int:
    """A limit as whole RLU, rounded up: ``value_rlu`` RLU itself still passes.

    >>> whole_rlu(12.2), whole_rlu(12.0000000001)
    (13, 12)
    """
    return math.ceil(round(value_rlu, 6))


def sample_of(rlu: Sequence[int], *, scales: Sequence[str] = ()) -> Sample:
    """The readings ``rlu`` in RLU, once they can carry any limit at all.

    ``scales`` names the scale (meter with swab) of each. Raises :class:`TooFewReadings` below
    ten, and :class:`OutOfRange` for readings of several scales, above 1000 readings, and where all
    are alike, since then nothing says how far clean vessels vary.

    >>> sample_of([3, 5]).size
    Traceback (most recent call last):
    ...
    brewhygiene.science.errors.TooFewReadings: 2 readings do not show how clean vessels vary. Limits need at least 10, 8 more.
    """  # noqa: E501
    several = sorted(set(scales))
    if len(several) > 1:
        raise OutOfRange(
            f"These are readings of {len(several)} scales ({', '.join(several)}). RLU of two "
            "meters or two types of ATP test must not be combined. Choose one."
        )
    if len(rlu) < LEAST_READINGS:
        more = LEAST_READINGS - len(rlu)
        counted = {
            0: "There is no reading yet.",
            1: "1 reading does not show how clean vessels vary.",
        }.get(len(rlu), f"{len(rlu)} readings do not show how clean vessels vary.")
        raise TooFewReadings(f"{counted} Limits need at least {LEAST_READINGS}, {more} more.")
    if len(rlu) > MOST_READINGS:
        raise OutOfRange(
            f"{digits(len(rlu), ',')} readings are more than a baseline takes "
            f"({digits(MOST_READINGS, ',')}). Choose a "
            "shorter period or fewer points."
        )
    for value in rlu:
        require("reading", value, unit="RLU", minimum=0)
    if min(rlu) == max(rlu):
        share = 100 * most_above_share(readings=len(rlu), confidence=0.95)
        what = "0 RLU" if rlu[0] == 0 else f"{rlu[0]} RLU"
        raise OutOfRange(
            f"All {len(rlu)} readings are {what}, so their variation is unknown and no limit can "
            f"be calculated. With 95 % confidence at most {share:.0f} % of such cleans read more. "
            "Do the meter's control check, and include more cleans or points."
        )
    return Sample(tuple(int(value) for value in rlu))


def most_above_share(*, readings: int, confidence: float) -> float:
    """The most, as a share of 1, that may lie above the largest of ``readings`` readings.

    With ``confidence`` (a share of 1): 1 - (1 - confidence)^(1/n), exact and one-sided; where
    nothing happened in n tries it is the upper bound of how often it does (roughly 3/n at
    95 %, the rule of three [1]_). Holds whatever the units. Raises :class:`OutOfRange` for no
    reading.

    >>> round(most_above_share(readings=20, confidence=0.95), 4)
    0.1391

    References
    ----------
    .. [1] Hanley J.A., Lippman-Hand A., JAMA 249 (1983) 1743-1745 (from memory).
    """
    require("number of readings", readings, minimum=1)
    require("confidence", confidence, minimum=0, maximum=1, above=True)
    return float(1 - (1 - confidence) ** (1 / readings))

"""Receiver operating characteristic: what every possible cut-off would have done.

A case is called positive from a threshold up. Two conventions name the threshold between two
neighbouring readings: ``at_least``, the smallest reading that is called positive, and
``midpoint``, half way down to the next smaller one. They stand for the same calls.
"""

import dataclasses
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from brewhygiene.science.counting.poisson import CONFIDENCE, Interval
from brewhygiene.science.errors import TooFewReadings, require

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]

LEAST_OF_EACH = 2


@dataclasses.dataclass(frozen=True)
class CutOff:
    """One threshold: a case is called positive from ``at_least`` up, ``None`` for never.

    ``midpoint`` lies half way to the next smaller reading; ``None`` where there is none, or no
    threshold. ``hits`` of the positives are called, and ``false_alarms`` of the negatives.
    """

    at_least: float | None
    midpoint: float | None
    hits: int
    false_alarms: int
    positives: int
    negatives: int

    @property
    def sensitivity(self) -> float:
        return self.hits / self.positives

    @property
    def specificity(self) -> float:
        return 1 - self.false_alarms / self.negatives

    @property
    def youden(self) -> float:
        """Sensitivity + specificity - 1."""
        return self.sensitivity + self.specificity - 1


@dataclasses.dataclass(frozen=True)
class Area:
    """Area under the curve: how often a positive reads higher than a negative, ties by half.

    ``interval`` is DeLong's, kept within 0 and 1. ``has_interval`` is ``False`` where the
    readings of the two kinds do not overlap at all: nothing then says how far the area may be
    off, and the interval is the bare value.
    """

    value: float
    interval: Interval
    has_interval: bool


@dataclasses.dataclass(frozen=True)
class Roc:
    """All cut-offs, from *never* to *always*, and the area under them."""

    cut_offs: tuple[CutOff, ...]
    area: Area


def checked_scores(
    scores: Sequence[float], positive: Sequence[bool], *, so: str, not_so: str
) -> "tuple[FloatArray, FloatArray]":
    """Readings of the positives and of the negatives; or why there is no curve to draw."""
    import numpy as np

    if len(scores) != len(positive):
        raise TooFewReadings(
            f"{len(scores)} readings and {len(positive)} answers do not make pairs."
        )
    values = np.asarray(scores, dtype=np.float64)
    if values.size:
        require("reading", values, minimum=None)
    is_so = np.asarray(positive, dtype=bool)
    high, low = values[is_so], values[~is_so]
    lacking = [
        f"{LEAST_OF_EACH - len(group)} more {words}"
        for group, words in ((high, so), (low, not_so))
        if len(group) < LEAST_OF_EACH
    ]
    if lacking:
        pairs = "1 pair" if len(values) == 1 else f"{len(values)} pairs"
        raise TooFewReadings(
            f"Of {pairs}, {len(high)} {'is' if len(high) == 1 else 'are'} {so} and {len(low)} "
            f"{not_so}. A curve needs {' and '.join(lacking)}. About ten of each make it useful."
        )
    if np.all(values == values[0]):
        raise TooFewReadings(
            "All readings are equal, so no cut-off can separate them. A curve needs readings that "
            "differ."
        )
    return high, low


def roc_of(
    scores: Sequence[float],
    positive: Sequence[bool],
    *,
    so: str = "positive",
    not_so: str = "negative",
    confidence: float = CONFIDENCE,
) -> Roc:
    """The curve of ``scores`` against whether each case was ``positive``.

    ``so`` and ``not_so`` name the two in a refusal; ``confidence`` is a share. Raises
    :class:`TooFewReadings` with fewer than two of either, or where all readings are equal.

    >>> found = roc_of([1, 2, 3, 4, 5, 6], [False, False, True, False, True, True])
    >>> round(found.area.value, 3), len(found.cut_offs)
    (0.889, 7)

    References
    ----------
    .. [1] E. R. DeLong, D. M. DeLong, D. L. Clarke-Pearson, Biometrics 44 (1988) 837-845 (from
           memory).
    """
    high, low = checked_scores(scores, positive, so=so, not_so=not_so)
    return Roc(_cut_offs(high, low), _area(high, low, confidence))


def _cut_offs(high: "FloatArray", low: "FloatArray") -> tuple[CutOff, ...]:
    import numpy as np

    places = np.unique(np.concatenate((high, low)))[::-1]
    of_high, of_low = np.sort(high), np.sort(low)
    hits = len(high) - np.searchsorted(of_high, places, side="left")
    alarms = len(low) - np.searchsorted(of_low, places, side="left")
    found = [CutOff(None, None, 0, 0, len(high), len(low))]
    for i, place in enumerate(places):
        midpoint = (place + places[i + 1]) / 2 if i + 1 < len(places) else None
        found.append(
            CutOff(
                at_least=float(place),
                midpoint=None if midpoint is None else float(midpoint),
                hits=int(hits[i]),
                false_alarms=int(alarms[i]),
                positives=len(high),
                negatives=len(low),
            )
        )
    return tuple(found)


def _area(high: "FloatArray", low: "FloatArray", confidence: float) -> Area:
    from statistics import NormalDist

    import numpy as np

    # The share of the other group that each lies above, ties by half.
    sorted_low, sorted_high = np.sort(low), np.sort(high)

    def share_below(values: "FloatArray", others: "FloatArray") -> "FloatArray":
        under = np.searchsorted(others, values, side="left")
        upto = np.searchsorted(others, values, side="right")
        return np.asarray((under + upto) / (2 * len(others)), dtype=np.float64)

    of_high = share_below(high, sorted_low)
    of_low = 1 - share_below(low, sorted_high)
    value = float(of_high.mean())
    variance = float(of_high.var(ddof=1)) / len(high) + float(of_low.var(ddof=1)) / len(low)
    half = NormalDist().inv_cdf((1 + confidence) / 2) * math.sqrt(variance)
    return Area(
        value,
        Interval(max(0.0, value - half), min(1.0, value + half)),
        has_interval=variance > 0,
    )


def youden_cut_off(roc: Roc) -> CutOff:
    """The cut-off of the largest sensitivity + specificity; of several, the one that misses least.

    >>> found = youden_cut_off(roc_of([1, 2, 3, 4], [False, False, True, True]))
    >>> found.at_least, found.midpoint
    (3.0, 2.5)
    """
    return max(roc.cut_offs, key=lambda cut: (round(cut.youden, 12), cut.hits))

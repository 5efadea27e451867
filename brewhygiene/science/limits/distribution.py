"""What the readings look like: histogram, zeros, and how straight they lie on normal paper."""

import dataclasses
from typing import TYPE_CHECKING

from brewhygiene.science.limits.sample import Sample, logs_of

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

MOST_BINS = 30
# So that no bin of logs lies between two whole RLU, where none can be read.
LEAST_LOG_WIDTH = 0.18


@dataclasses.dataclass(frozen=True)
class Bin:
    """Readings from ``low`` to below ``high`` (the last: up to it), in RLU or in logs."""

    low: float
    high: float
    count: int


@dataclasses.dataclass(frozen=True)
class Straightness:
    """How near to a straight line readings lie on normal paper.

    ``correlation`` of the probability plot (1 is a straight line), Shapiro and Wilk's ``w`` and
    its ``p``; ties make the p small, so it is shown and decides nothing.
    """

    correlation: float
    w: float
    p: float


@dataclasses.dataclass(frozen=True)
class Distribution:
    """``scores`` are the normal scores (SDs) of the readings in order of size, ``ordered_rlu``."""

    readings: int
    zeros: int
    lowest_rlu: int
    median_rlu: float
    highest_rlu: int
    raw_bins: tuple[Bin, ...]
    log_bins: tuple[Bin, ...]
    scores: tuple[float, ...]
    ordered_rlu: tuple[int, ...]
    raw: Straightness
    logs: Straightness

    @property
    def zero_share(self) -> float:
        """Readings of 0 RLU as a share of 1."""
        return self.zeros / self.readings


def _bins(values: "FloatArray", *, whole: bool) -> tuple[Bin, ...]:
    """Bins by Freedman and Diaconis, of whole RLU where ``whole``, at most ``MOST_BINS``."""
    import numpy as np

    low, high = float(values.min()), float(values.max())
    quarter, three = np.quantile(values, [0.25, 0.75])
    width = 2 * float(three - quarter) / len(values) ** (1 / 3)
    width = max(width, (high - low) / MOST_BINS, LEAST_LOG_WIDTH)
    if whole:
        width = float(max(1, np.ceil(width)))
    count = max(1, int(np.floor((high - low) / width)) + 1)
    counts, edges = np.histogram(values, bins=count, range=(low, low + count * width))
    return tuple(
        Bin(float(a), float(b), int(n))
        for a, b, n in zip(edges[:-1], edges[1:], counts, strict=True)
    )


def _straightness(scores: "FloatArray", ordered: "FloatArray") -> Straightness:
    import numpy as np
    from scipy import stats

    w, p = stats.shapiro(ordered)
    return Straightness(float(np.corrcoef(scores, ordered)[0, 1]), float(w), float(p))


def distribution_of(sample: Sample) -> Distribution:
    """Histogram, normal scores and straightness of ``sample``, RLU and log10(RLU+1).

    Normal scores are Filliben's estimates of the order statistics' medians.
    """
    import numpy as np
    from scipy import stats

    ordered = np.sort(sample.array())
    (scores, _) = stats.probplot(ordered, fit=False)
    raw, logs = ordered.astype(float), logs_of(ordered)
    return Distribution(
        readings=sample.size,
        zeros=sample.zeros,
        lowest_rlu=int(ordered[0]),
        median_rlu=float(np.median(ordered)),
        highest_rlu=int(ordered[-1]),
        raw_bins=_bins(raw, whole=True),
        log_bins=_bins(logs, whole=False),
        scores=tuple(float(score) for score in scores),
        ordered_rlu=tuple(int(value) for value in ordered),
        raw=_straightness(scores, raw),
        logs=_straightness(scores, logs),
    )

"""Passing-Bablok regression: a line from the median of the pairs' slopes, with few assumptions.

References
----------
.. [1] Passing H., Bablok W., J. Clin. Chem. Clin. Biochem. 21 (1983) 709-720 (formulas from
   memory, held against published results in the tests).
"""

import dataclasses
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from brewhygiene.science.agreement.paired import paired
from brewhygiene.science.errors import OutOfRange, require

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

LEAST_PAIRS = 4
# Slopes grow with the square of the pairs: 2000 pairs have two million, 16 MB.
MOST_PAIRS = 2000


@dataclasses.dataclass(frozen=True)
class PassingBablokFit:
    """y = ``intercept`` + ``slope`` · x with confidence intervals by ranks.

    ``slopes`` were counted, ``offset`` (K) of them below −1. ``linearity_h`` is the CUSUM
    statistic max|cusum|/√(L + 1) and ``linearity_p`` its p value: a small one means a bend.
    """

    pairs: int
    intercept: float
    slope: float
    ci_intercept: tuple[float, float]
    ci_slope: tuple[float, float]
    confidence: float
    slopes: int
    offset: int
    linearity_h: float
    linearity_p: float

    def at(self, x: float) -> float:
        """The line at ``x``, in the unit of y."""
        return self.intercept + self.slope * x


def passing_bablok(
    *, x: Sequence[float], y: Sequence[float], confidence: float = 0.95
) -> PassingBablokFit:
    """The line of ``y`` on ``x`` by Passing and Bablok, which treats both sides alike.

    The slope is the median of all N slopes between two pairs, shifted by K, the number of slopes
    below −1. Identical pairs have none and a slope of exactly −1 is not counted; a vertical one
    is infinite. With C = z √(n(n−1)(2n+5)/18) and M₁ = (N − C)/2 rounded, the interval of
    ``confidence`` runs from the slope of rank M₁ + K to that of N − M₁ + 1 + K; the intercept is
    the median of y − bx, its interval from the ends of the slope's [1]_. The linearity test is
    the paper's, with each distinct pair counted once. For lines that rise and whose slope is
    near 1. x and y in any units. Raises :class:`TooFewReadings` below 4 pairs,
    :class:`OutOfRange` above 2000, where a side does not vary, or where the interval of the slope
    has no end.

    >>> fit = passing_bablok(x=[1, 2, 3, 4, 10, 12, 18], y=[9, 15, 19, 20, 45, 55, 78],
    ...                      confidence=0.93)
    >>> fit.slope, fit.intercept
    (4.0, 6.0)
    """
    xs, ys = paired(x, y, least=LEAST_PAIRS)
    require("confidence", confidence, minimum=0.5, maximum=0.999)
    n = len(xs)
    if n > MOST_PAIRS:
        raise OutOfRange(f"{n} pairs are too many. Enter at most {MOST_PAIRS}.")
    for name, side in (("first", xs), ("second", ys)):
        if float(side.max()) == float(side.min()):
            raise OutOfRange(
                f"All readings of the {name} method are equal. A line needs a range of readings."
            )
    slopes = _slopes(xs, ys)
    count, offset = len(slopes), int((slopes < -1).sum())
    if count == 0:
        raise OutOfRange("The two do not rise together in these pairs, so there is no line.")
    from scipy.stats import norm

    half = float(norm.ppf((1 + confidence) / 2)) * math.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    first = round((count - half) / 2)
    low, high = first + offset, count - first + 1 + offset
    middle = (_ranked(slopes, (count + 1) // 2 + offset), _ranked(slopes, count // 2 + 1 + offset))
    slope = (middle[0] + middle[1]) / 2
    if first < 1 or low < 1 or high > count or not math.isfinite(slope):
        raise OutOfRange(
            "The slope's interval has no end with these pairs. Take more pairs over a wider range."
        )
    ci_slope = _ranked(slopes, low), _ranked(slopes, high)
    if not all(math.isfinite(end) for end in ci_slope):
        raise OutOfRange(
            "The slope's interval has no end with these pairs. Take more pairs over a wider range."
        )
    intercept = _median(ys - slope * xs)
    h = _linearity(xs, ys, intercept, slope)
    return PassingBablokFit(
        pairs=n,
        intercept=intercept,
        slope=slope,
        ci_intercept=(_median(ys - ci_slope[1] * xs), _median(ys - ci_slope[0] * xs)),
        ci_slope=ci_slope,
        confidence=confidence,
        slopes=count,
        offset=offset,
        linearity_h=h,
        linearity_p=_kolmogorov_p(h),
    )


def _slopes(x: "FloatArray", y: "FloatArray") -> "FloatArray":
    """Every slope between two pairs that counts, in order."""
    import numpy as np

    i, j = np.triu_indices(len(x), 1)
    dx, dy = x[j] - x[i], y[j] - y[i]
    # A vertical slope taken as +inf or as -inf gives the same line: K shifts the ranks back.
    slopes = np.divide(dy, dx, out=np.full(dx.shape, np.inf), where=dx != 0)
    found: FloatArray = np.sort(slopes[((dx != 0) | (dy != 0)) & (slopes != -1)])
    return found


def _ranked(slopes: "FloatArray", rank: int) -> float:
    return float(slopes[rank - 1]) if 1 <= rank <= len(slopes) else math.inf


def _median(values: "FloatArray") -> float:
    import numpy as np

    return float(np.median(values))


def _linearity(x: "FloatArray", y: "FloatArray", intercept: float, slope: float) -> float:
    """The paper's CUSUM statistic: whether pairs above and below the line take turns along it.

    Pairs that are the same count once: a heap of zeros on one side of the line is no bend. The
    cusum is looked at where a run of pairs at one place on the line ends, so that the order
    within a tie decides nothing.
    """
    import numpy as np

    if slope <= 0:
        raise OutOfRange("The two do not rise together in these pairs, so there is no line.")
    x, y = np.unique(np.column_stack([x, y]), axis=0).T
    residuals = y - intercept - slope * x
    residuals[np.abs(residuals) <= 1e-9 * (np.abs(y) + abs(intercept) + 1)] = 0
    above, below = int((residuals > 0).sum()), int((residuals < 0).sum())
    if above == 0 or below == 0:
        return 0.0
    scores = np.where(
        residuals > 0,
        math.sqrt(below / above),
        np.where(residuals < 0, -math.sqrt(above / below), 0),
    )
    along = (y + x / slope - intercept) / math.sqrt(1 + 1 / slope**2)
    order = np.argsort(along, kind="stable")
    cusum = np.cumsum(scores[order])
    ends = np.append(np.diff(along[order]) > 1e-9, True)
    return float(np.abs(cusum[ends]).max()) / math.sqrt(below + 1)


def _kolmogorov_p(h: float) -> float:
    """The paper's critical values 1.22, 1.36 and 1.63 are those of Kolmogorov and Smirnov."""
    from scipy.stats import kstwobign

    return float(kstwobign.sf(h))

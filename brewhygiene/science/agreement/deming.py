"""Deming regression: a line through pairs of which both sides have errors.

References
----------
.. [1] Linnet K., Clinical Chemistry 39 (1993) 424-432 (from memory): closed form and jackknife.
.. [2] Ripley B.D., Thompson M., Analyst 112 (1987) 377-383: errors known for each point.
"""

import dataclasses
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from brewhygiene.science.agreement.paired import paired
from brewhygiene.science.errors import OutOfRange, require

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

LEAST_PAIRS = 4
Jackknife = Literal["centred", "about the fit"]
RatioIs = Literal["y over x", "x over y"]


@dataclasses.dataclass(frozen=True)
class DemingFit:
    """y = ``intercept`` + ``slope`` · x, with jackknife standard errors and intervals.

    ``variance_ratio_y_to_x`` is the ratio of error variances that was given. ``without`` holds
    intercept and slope of the fit without each pair in turn.
    """

    pairs: int
    intercept: float
    slope: float
    se_intercept: float
    se_slope: float
    ci_intercept: tuple[float, float]
    ci_slope: tuple[float, float]
    confidence: float
    variance_ratio_y_to_x: float
    without: tuple[tuple[float, float], ...]

    def at(self, x: float) -> float:
        """The line at ``x``, in the unit of y."""
        return self.intercept + self.slope * x

    def interval_at(self, x: float) -> tuple[float, float]:
        """The confidence interval of the line at ``x``, by the jackknife, in the unit of y."""
        half = _quantile(self.confidence, self.pairs) * _spread(
            [intercept + slope * x for intercept, slope in self.without]
        )
        return self.at(x) - half, self.at(x) + half


def _quantile(confidence: float, pairs: int) -> float:
    from scipy.stats import t as student

    return float(student.ppf((1 + confidence) / 2, pairs - 2))


def _spread(values: Sequence[float]) -> float:
    """The jackknife's standard error of what the leave-one-out ``values`` are of."""
    n = len(values)
    mean = math.fsum(values) / n
    return math.sqrt((n - 1) / n * math.fsum((value - mean) ** 2 for value in values))


def deming(
    *,
    x: Sequence[float],
    y: Sequence[float],
    error_ratio: float = 1.0,
    ratio_is: RatioIs = "y over x",
    confidence: float = 0.95,
    jackknife: Jackknife = "centred",
) -> DemingFit:
    """The line through ``x`` and ``y`` where the errors of both have a known ratio of variances.

    With λ = variance of y's errors over that of x's,
    b = (s_yy − λ s_xx + √((s_yy − λ s_xx)² + 4 λ s_xy²)) / (2 s_xy) [1]_. Programs write the
    ratio both ways round: ``error_ratio`` is λ where ``ratio_is`` "y over x", and 1/λ where it is
    "x over y". ``confidence`` is that of the intervals, by t with n − 2 degrees of freedom. The
    standard errors are the ``jackknife``'s: "centred" is √((n − 1)/n Σ(dᵢ − d̄)²), the
    textbooks' form; "about the fit" is √(Σ(bᵢ − b)²), which R's ``deming`` prints. x and y in
    any units. Raises :class:`TooFewReadings` below 4 pairs, :class:`OutOfRange` where a side
    does not vary or the two do not rise together.

    >>> fit = deming(x=[1, 2, 3, 4, 5], y=[2.1, 3.9, 6.2, 7.8, 10.1])
    >>> round(fit.slope, 4), round(fit.intercept, 4)
    (1.9943, 0.0371)
    """
    xs, ys = paired(x, y, least=LEAST_PAIRS)
    require("ratio of error variances", error_ratio, minimum=0, above=True)
    require("confidence", confidence, minimum=0.5, maximum=0.999)
    ratio = error_ratio if ratio_is == "y over x" else 1 / error_ratio
    for name, side in (("first", xs), ("second", ys)):
        if float(side.max()) == float(side.min()):
            raise OutOfRange(
                f"All readings of the {name} method are equal. A line needs a range of readings."
            )
    return _fit(
        _line(xs, ys, ratio),
        _leave_one_out(xs, ys, ratio),
        ratio=ratio,
        confidence=confidence,
        jackknife=jackknife,
    )


def _fit(
    line: tuple[float, float],
    without: tuple[tuple[float, float], ...],
    *,
    ratio: float,
    confidence: float,
    jackknife: Jackknife,
) -> DemingFit:
    """A line with what leaving out each pair says of its certainty."""
    errors = [
        _spread([one[k] for one in without])
        if jackknife == "centred"
        else math.sqrt(math.fsum((one[k] - line[k]) ** 2 for one in without))
        for k in (0, 1)
    ]
    quantile = _quantile(confidence, len(without))
    intervals = [
        (value - quantile * error, value + quantile * error)
        for value, error in zip(line, errors, strict=True)
    ]
    return DemingFit(
        pairs=len(without),
        intercept=line[0],
        slope=line[1],
        se_intercept=errors[0],
        se_slope=errors[1],
        ci_intercept=intervals[0],
        ci_slope=intervals[1],
        confidence=confidence,
        variance_ratio_y_to_x=ratio,
        without=without,
    )


def _line(x: "FloatArray", y: "FloatArray", ratio: float) -> tuple[float, float]:
    x_mean, y_mean = float(x.mean()), float(y.mean())
    s_xx = float(((x - x_mean) ** 2).sum())
    s_yy = float(((y - y_mean) ** 2).sum())
    s_xy = float(((x - x_mean) * (y - y_mean)).sum())
    if s_xy <= 1e-12 * math.sqrt(s_xx * s_yy):
        raise OutOfRange("The two do not rise together in these pairs, so there is no line.")
    difference = s_yy - ratio * s_xx
    slope = (difference + math.hypot(difference, 2 * math.sqrt(ratio) * s_xy)) / (2 * s_xy)
    return y_mean - slope * x_mean, slope


def _leave_one_out(
    x: "FloatArray", y: "FloatArray", ratio: float
) -> tuple[tuple[float, float], ...]:
    """Intercept and slope without each pair, from the sums of squares brought down by it."""
    import numpy as np

    n = len(x)
    dx, dy = x - x.mean(), y - y.mean()
    shrink = n / (n - 1)
    s_xx = (dx**2).sum() - shrink * dx**2
    s_yy = (dy**2).sum() - shrink * dy**2
    s_xy = (dx * dy).sum() - shrink * dx * dy
    if bool((s_xy <= 1e-12 * np.sqrt(np.abs(s_xx * s_yy))).any()):
        raise OutOfRange("One pair alone makes the line. Without it the two do not rise together.")
    difference = s_yy - ratio * s_xx
    slope = (difference + np.hypot(difference, 2 * math.sqrt(ratio) * s_xy)) / (2 * s_xy)
    x_mean, y_mean = x.mean() - dx / (n - 1), y.mean() - dy / (n - 1)
    intercept = y_mean - slope * x_mean
    return tuple(zip(intercept.tolist(), slope.tolist(), strict=True))

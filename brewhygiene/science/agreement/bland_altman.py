"""Limits of agreement: how far two methods differ on the same place.

References
----------
.. [1] Bland J.M., Altman D.G., Lancet i (1986) 307-310.
.. [2] Bland J.M., Altman D.G., Statistical Methods in Medical Research 8 (1999) 135-160.
"""

import dataclasses
import math
from collections.abc import Sequence
from typing import Literal

from brewhygiene.science.agreement.paired import paired
from brewhygiene.science.errors import OutOfRange, TooFewReadings, require

Interval = tuple[float, float]
LimitError = Literal["1986", "1999"]
LEAST_PAIRS = 3


@dataclasses.dataclass(frozen=True)
class Agreement:
    """Mean difference (first minus second), its SD and the limits of agreement, in one unit.

    ``limits`` hold about 95 of 100 differences when ``factor`` is 1.96. Each has its confidence
    interval. ``se_bias`` and ``se_limit`` are standard errors. ``trend`` is the rank correlation
    of the differences with the means: far from 0, one bias does not hold over the whole range.
    """

    pairs: int
    bias: float
    sd: float
    limits: Interval
    factor: float
    confidence: float
    se_bias: float
    se_limit: float
    ci_bias: Interval
    ci_lower: Interval
    ci_upper: Interval
    trend: float | None = None


@dataclasses.dataclass(frozen=True)
class Ratios:
    """The same as ratios, first over second: antilogarithms of an :class:`Agreement` on logs."""

    ratio: float
    limits: Interval
    ci_ratio: Interval
    ci_lower: Interval
    ci_upper: Interval


def limits_of_agreement(
    *,
    bias: float,
    sd: float,
    pairs: int,
    factor: float = 1.96,
    confidence: float = 0.95,
    limit_error: LimitError = "1999",
) -> Agreement:
    """Limits of agreement from the mean ``bias`` and ``sd`` of the differences of ``pairs``.

    bias ± ``factor`` · sd. Intervals of ``confidence`` by t with n − 1 degrees of freedom; the
    standard error of a limit is √(3 s²/n) by ``limit_error`` "1986" [1]_ and
    s √(1/n + factor²/(2 (n − 1))) by "1999" [2]_. Bias and SD in the readings' unit. Raises
    :class:`TooFewReadings` below 3 pairs, :class:`OutOfRange` for an SD below 0.

    >>> found = limits_of_agreement(bias=-2.1, sd=38.8, pairs=17, factor=2)
    >>> [round(limit, 1) for limit in found.limits]
    [-79.7, 75.5]
    """
    if pairs < LEAST_PAIRS:
        raise TooFewReadings(f"{pairs} pairs are too few. Limits need at least {LEAST_PAIRS}.")
    require("standard deviation", sd, minimum=0)
    require("mean difference", bias)
    require("factor", factor, minimum=0, above=True)
    require("confidence", confidence, minimum=0.5, maximum=0.999)
    from scipy.stats import t as student  # 35 MB that only a study of pairs pays for

    quantile = float(student.ppf((1 + confidence) / 2, pairs - 1))
    se_bias = sd / math.sqrt(pairs)
    se_limit = (
        math.sqrt(3) * se_bias
        if limit_error == "1986"
        else sd * math.sqrt(1 / pairs + factor**2 / (2 * (pairs - 1)))
    )

    def around(value: float, error: float) -> Interval:
        return value - quantile * error, value + quantile * error

    lower, upper = bias - factor * sd, bias + factor * sd
    return Agreement(
        pairs=pairs,
        bias=bias,
        sd=sd,
        limits=(lower, upper),
        factor=factor,
        confidence=confidence,
        se_bias=se_bias,
        se_limit=se_limit,
        ci_bias=around(bias, se_bias),
        ci_lower=around(lower, se_limit),
        ci_upper=around(upper, se_limit),
    )


def bland_altman(
    *,
    first: Sequence[float],
    second: Sequence[float],
    factor: float = 1.96,
    confidence: float = 0.95,
    limit_error: LimitError = "1999",
) -> Agreement:
    """Limits of agreement of pairs: ``first`` minus ``second``, both in one unit, such as RLU.

    ``factor`` is 1.96 today and 2 in the paper of 1986; the rest as in
    :func:`limits_of_agreement`. Raises :class:`TooFewReadings` below 3 pairs.

    >>> found = bland_altman(first=[10, 12, 14, 16], second=[9, 12, 13, 14])
    >>> found.bias, round(found.sd, 3)
    (1.0, 0.816)
    """
    x, y = paired(first, second, least=LEAST_PAIRS)
    differences = x - y
    found = limits_of_agreement(
        bias=float(differences.mean()),
        sd=float(differences.std(ddof=1)),
        pairs=len(x),
        factor=factor,
        confidence=confidence,
        limit_error=limit_error,
    )
    return dataclasses.replace(
        found, trend=_rank_correlation(differences.tolist(), ((x + y) / 2).tolist())
    )


def _rank_correlation(first: Sequence[float], second: Sequence[float]) -> float | None:
    """Spearman's, or ``None`` where one side does not vary."""
    import numpy as np
    from scipy.stats import rankdata

    a, b = rankdata(first), rankdata(second)
    if a.max() == a.min() or b.max() == b.min():
        return None
    return float(np.corrcoef(a, b)[0, 1])


def ratios_of(agreement: Agreement, *, base: float = 10.0) -> Ratios:
    """Limits of agreement as ratios, from an ``agreement`` of logarithms to ``base``.

    A ratio of 2 means that the first method reads twice the second [2]_. Of log10(RLU + 1) it is
    the ratio of RLU + 1. Ratios have no unit. Raises :class:`OutOfRange` for a base not above 1.

    >>> found = limits_of_agreement(bias=0.30103, sd=0.1, pairs=30)
    >>> round(ratios_of(found).ratio, 3)
    2.0
    """
    require("base", base, minimum=1, above=True)

    def both(interval: Interval) -> Interval:
        return _power(base, interval[0]), _power(base, interval[1])

    return Ratios(
        ratio=_power(base, agreement.bias),
        limits=both(agreement.limits),
        ci_ratio=both(agreement.ci_bias),
        ci_lower=both(agreement.ci_lower),
        ci_upper=both(agreement.ci_upper),
    )


def _power(base: float, exponent: float) -> float:
    if exponent * math.log10(base) > 300:
        raise OutOfRange("The limits of agreement are too far apart to be given as ratios.")
    return float(base**exponent)


@dataclasses.dataclass(frozen=True)
class Repeatability:
    """How one method agrees with itself: within-subject variance and SD, and what follows.

    ``coefficient`` is the difference that two readings of one place exceed in 5 of 100 times,
    1.96 √2 · SD, in the readings' unit.
    """

    variance: float
    sd: float
    coefficient: float
    subjects: int
    degrees_of_freedom: int


def repeatability(*, readings: Sequence[Sequence[float]]) -> Repeatability:
    """Repeatability from repeated ``readings`` of each subject, all in one unit, such as RLU.

    The within-subject mean square of a one-way analysis of variance [2]_; subjects read once say
    nothing about it. Raises :class:`TooFewReadings` where no subject was read twice.

    >>> found = repeatability(readings=[[10, 12], [20, 20], [31, 29]])
    >>> round(found.variance, 4), found.degrees_of_freedom
    (1.3333, 3)
    """
    repeated = [group for group in readings if len(group) > 1]
    freedom = sum(len(group) - 1 for group in repeated)
    if freedom == 0:
        raise TooFewReadings(
            "No point was read twice with this meter. Repeatability needs repeats."
        )
    squares = 0.0
    for group in repeated:
        mean = math.fsum(group) / len(group)
        squares += math.fsum((require("reading", float(value)) - mean) ** 2 for value in group)
    variance = squares / freedom
    sd = math.sqrt(variance)
    return Repeatability(variance, sd, 1.96 * math.sqrt(2) * sd, len(repeated), freedom)

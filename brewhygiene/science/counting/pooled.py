"""One density from all dishes together, whatever their volumes, the overfull ones too."""

import dataclasses
import math
from collections.abc import Sequence

from brewhygiene.science.counting.colonies import MOST_COUNTABLE, Dish, check_dishes
from brewhygiene.science.counting.poisson import CONFIDENCE, Interval, poisson_interval
from brewhygiene.science.errors import TooFewReadings, require


@dataclasses.dataclass(frozen=True)
class PooledCount:
    """CFU per mL that fits all dishes best, those too full to count among them."""

    per_ml: float
    interval: Interval
    colonies: int
    amount_ml: float


def pooled_count(
    *,
    dishes: Sequence[Dish],
    too_many_from: int = MOST_COUNTABLE,
    confidence: float = CONFIDENCE,
) -> PooledCount:
    """CFU per mL that makes all ``dishes`` together most likely, whatever their volumes, mL.

    Without a dish too full to count that is ΣC / ΣV [1]_ with the exact Poisson interval. A dish
    that is too full says that at least ``too_many_from`` grew on it; the likelihood of all is
    then greatest where its slope is 0 (found by bisection) [2]_, and the interval (``confidence``,
    a share) is that of the likelihood ratio. Raises :class:`TooFewReadings` without a dish, or
    with none that can be counted, and :class:`OutOfRange` for amounts that cannot be.

    >>> dishes = [Dish(1, 1, n) for n in (1, 2, 1, 0, 0)] + [Dish(1, 2.5, n) for n in (1, 1, 3, 6)]
    >>> round(pooled_count(dishes=dishes).per_ml, 3)
    1.0

    References
    ----------
    .. [1] C. N. Haas, J. B. Rose, C. P. Gerba, Quantitative Microbial Risk Assessment, 2nd ed.
           (2014), example 6.1A (read in the tests of an R package).
    .. [2] C. N. Haas, B. Heller, Appl. Environ. Microbiol. 54 (1988) 2069-2072 (as above).
    """
    require("number that is too many", too_many_from, minimum=1, maximum=100_000)
    check_dishes(dishes=dishes)
    counted = [dish for dish in dishes if dish.colonies is not None]
    full = [dish.amount_ml for dish in dishes if dish.colonies is None]
    if not counted:
        raise TooFewReadings(
            "Every dish is too full to count. One that can be counted, of a weaker dilution, "
            "would allow a number."
        )
    colonies = sum(dish.colonies or 0 for dish in counted)
    amount = math.fsum(dish.amount_ml for dish in counted)
    if not full:
        interval = poisson_interval(count=colonies, confidence=confidence).times(1 / amount)
        return PooledCount(colonies / amount, interval, colonies, amount)
    best, interval = _most_likely(colonies, amount, full, too_many_from, confidence)
    return PooledCount(best, interval, colonies, amount)


def _most_likely(
    colonies: int, amount: float, full: Sequence[float], limit: int, confidence: float
) -> tuple[float, Interval]:
    """The density of the greatest likelihood and its ratio's interval, with censored dishes."""
    from scipy.optimize import brentq
    from scipy.stats import chi2, poisson

    def log_likelihood(log_density: float) -> float:
        density = math.exp(log_density)
        of_full = sum(float(poisson.logsf(limit - 1, density * v)) for v in full)
        return colonies * log_density - density * amount + of_full

    def slope(log_density: float) -> float:
        density = math.exp(log_density)
        # d/dλ P(X ≥ m) of a Poisson mean λ is P(X = m - 1).
        of_full = sum(
            density
            * v
            * math.exp(
                float(poisson.logpmf(limit - 1, density * v))
                - float(poisson.logsf(limit - 1, density * v))
            )
            for v in full
        )
        return colonies - density * amount + of_full

    start = math.log((colonies + 0.5) / amount)
    high = math.log((colonies + limit * len(full)) / amount) + 1
    low = min(start - 1, math.log(limit / max(full)) - 5)
    best = float(brentq(slope, low, high))
    drop = float(chi2.ppf(confidence, 1)) / 2

    def below(log_density: float) -> float:
        return log_likelihood(log_density) - log_likelihood(best) + drop

    return math.exp(best), Interval(
        math.exp(float(brentq(below, best - 40, best))),
        math.exp(float(brentq(below, best, best + 40))),
    )

"""Whether a sanitiser dims a known positive: its recovery against clean water.

The ratio of geometric means with Welch's interval on the logarithms. That it does not dim is
proved only where the whole 90 % interval lies inside the acceptance range: two one-sided tests at
5 %.

References
----------
.. [1] Welch B.L., Biometrika 34 (1947) 28-35 (from memory).
.. [2] Schuirmann D.J., J. Pharmacokin. Biopharm. 15 (1987) 657-680, two one-sided tests (from
   memory).
"""

import dataclasses
import math
from collections.abc import Sequence

from brewhygiene.science.errors import OutOfRange, TooFewReadings

LEAST_READINGS = 3
CONFIDENCE = 0.90
# Symmetric in logarithms. Common practice, no source.
ACCEPTED = (0.80, 1.25)


@dataclasses.dataclass(frozen=True)
class Recovery:
    """The share of a positive that is read in the sanitiser, with its interval; 1 is all."""

    ratio: float
    low: float
    high: float
    degrees_of_freedom: float | None

    @property
    def proved(self) -> bool:
        """Whether the whole interval lies inside the acceptance range, its bounds included."""
        return ACCEPTED[0] <= self.low and self.high <= ACCEPTED[1]


def recovery_of(
    *,
    water: Sequence[float],
    sanitiser: Sequence[float],
    water_blank: float = 0.0,
    sanitiser_blank: float = 0.0,
) -> Recovery:
    """The recovery of a positive read in ``sanitiser`` against ``water``, all in RLU.

    ``water_blank`` and ``sanitiser_blank``, RLU, are the means without the positive and are taken
    off. A reading in the sanitiser no higher than its blank has no logarithm: nothing is
    recovered. Raises :class:`TooFewReadings` below three of either and :class:`OutOfRange` where a
    reading in water is no higher than its blank.
    """
    if min(len(water), len(sanitiser)) < LEAST_READINGS:
        raise TooFewReadings(f"A recovery needs at least {LEAST_READINGS} readings of each.")
    in_water = [reading - water_blank for reading in water]
    in_sanitiser = [reading - sanitiser_blank for reading in sanitiser]
    if min(in_water) <= 0:
        raise OutOfRange("A positive in water reads no higher than the blank. Use a stronger one.")
    if min(in_sanitiser) <= 0:
        return Recovery(0.0, 0.0, 0.0, None)
    logs = [[math.log(value) for value in values] for values in (in_sanitiser, in_water)]
    means = [math.fsum(one) / len(one) for one in logs]
    errors = [
        math.fsum((value - mean) ** 2 for value in one) / (len(one) - 1) / len(one)
        for one, mean in zip(logs, means, strict=True)
    ]
    difference, variance = means[0] - means[1], math.fsum(errors)
    if variance == 0:
        ratio = math.exp(difference)
        return Recovery(ratio, ratio, ratio, None)
    degrees = variance**2 / math.fsum(
        error**2 / (len(one) - 1) for error, one in zip(errors, logs, strict=True)
    )
    from scipy.stats import t

    half = float(t.ppf((1 + CONFIDENCE) / 2, degrees)) * math.sqrt(variance)
    return Recovery(
        ratio=math.exp(difference),
        low=math.exp(difference - half),
        high=math.exp(difference + half),
        degrees_of_freedom=degrees,
    )

"""The exponentially weighted moving average: a memory that fades, for small lasting shifts."""

import dataclasses
import math
from collections.abc import Sequence

from brewhygiene.science.errors import require

# Lucas and Saccucci (1990): with these 500 readings lie between false alarms, on average.
WEIGHT = 0.2
WIDTH = 2.962


@dataclasses.dataclass(frozen=True)
class Ewma:
    """``average`` after each reading with its ``lower`` and ``upper`` limits, in their unit."""

    average: tuple[float, ...]
    lower: tuple[float, ...]
    upper: tuple[float, ...]

    @property
    def above(self) -> tuple[int, ...]:
        """Places where the average is over its upper limit."""
        return tuple(i for i, z in enumerate(self.average) if z > self.upper[i])

    @property
    def below(self) -> tuple[int, ...]:
        """Places where the average is under its lower limit."""
        return tuple(i for i, z in enumerate(self.average) if z < self.lower[i])


def ewma(
    values: Sequence[float],
    *,
    centre: float,
    sigma: float,
    weight: float = WEIGHT,
    width: float = WIDTH,
    exact: bool = False,
) -> Ewma:
    """z = weight · x + (1 - weight) · z before, from ``centre``; limits centre ± width · its SD.

    ``values``, ``centre`` and ``sigma`` in one unit; ``weight`` from above 0 to 1 and ``width``
    without one. The limits are the asymptotic ones, or with ``exact`` those of each reading,
    narrower at first. Raises :class:`OutOfRange` for a sigma, weight or width that is not above 0.

    >>> chart = ewma([52.0, 47.0, 53.0], centre=50, sigma=2.0539, weight=0.3, width=3)
    >>> [round(z, 2) for z in chart.average], round(chart.upper[0], 4)
    ([50.6, 49.52, 50.56], 52.5884)

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods (2012), 6.3.2.4.
    .. [2] Lucas J.M., Saccucci M.S., Technometrics 32 (1990) 1-12 (from memory).
    """
    require("sigma", sigma, minimum=0, above=True)
    require("weight of a reading", weight, minimum=0, maximum=1, above=True)
    require("width of the limits", width, minimum=0, above=True)
    average: list[float] = []
    z, rest = centre, 1 - weight
    for value in values:
        z = weight * value + rest * z
        average.append(z)
    half = width * sigma * math.sqrt(weight / (2 - weight))
    if exact:
        halves = [half * math.sqrt(1 - rest ** (2 * (i + 1))) for i in range(len(average))]
    else:
        halves = [half] * len(average)
    return Ewma(
        average=tuple(average),
        lower=tuple(centre - one for one in halves),
        upper=tuple(centre + one for one in halves),
    )

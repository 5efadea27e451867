"""The tabular cumulative sum: it adds up what is above (or below) its allowance."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.science.errors import require

# In sigmas. For a shift of one sigma; 465 readings between false alarms (Montgomery, table 9.3).
ALLOWANCE = 0.5
DECISION = 5.0


@dataclasses.dataclass(frozen=True)
class Cusum:
    """``high`` and ``low`` sums after each reading, in sigmas, and how long each has been up.

    ``run_high[i]`` counts the readings since the upper sum was last 0: the shift, where one is
    signalled at ``i``, is dated to the reading ``i - run_high[i] + 1``.
    """

    high: tuple[float, ...]
    low: tuple[float, ...]
    run_high: tuple[int, ...]
    run_low: tuple[int, ...]

    def onset(self, found: int, *, up: bool = True) -> int:
        """Place of the first reading of the shift that is signalled at place ``found``."""
        return found - (self.run_high if up else self.run_low)[found] + 1


def cusum(
    values: Sequence[float],
    *,
    centre: float,
    sigma: float,
    allowance: float = ALLOWANCE,
    ceiling: float | None = None,
) -> Cusum:
    """Both one-sided sums of (x - centre)/sigma beyond ``allowance``, never below 0.

    ``values``, ``centre`` and ``sigma`` in one unit; ``allowance`` (the textbooks' k) and
    ``ceiling`` in sigmas: with a ceiling no sum rises further, so that one that has signalled for
    long comes down again soon after the cause is gone. Raises :class:`OutOfRange` for a sigma
    that is not above 0 or an allowance below it.

    >>> chart = cusum([9.45, 7.99, 9.29, 11.66, 12.16], centre=10, sigma=1)
    >>> [round(c, 2) for c in chart.high], [round(c, 2) for c in chart.low]
    ([0.0, 0.0, 0.0, 1.16, 2.82], [0.05, 1.56, 1.77, 0.0, 0.0])

    References
    ----------
    .. [1] Page E.S., Biometrika 41 (1954) 100-115 (from memory).
    .. [2] Montgomery D.C., Introduction to Statistical Quality Control, 9.1.
    """
    require("sigma", sigma, minimum=0, above=True)
    require("allowance", allowance, minimum=0, unit="sigmas")
    high: list[float] = []
    low: list[float] = []
    run_high: list[int] = []
    run_low: list[int] = []
    up = down = 0.0
    run_up = run_down = 0
    for value in values:
        z = (value - centre) / sigma
        up = max(0.0, up + z - allowance)
        down = max(0.0, down - z - allowance)
        if ceiling is not None:
            up, down = min(up, ceiling), min(down, ceiling)
        run_up = run_up + 1 if up > 0 else 0
        run_down = run_down + 1 if down > 0 else 0
        high.append(up)
        low.append(down)
        run_high.append(run_up)
        run_low.append(run_down)
    return Cusum(tuple(high), tuple(low), tuple(run_high), tuple(run_low))

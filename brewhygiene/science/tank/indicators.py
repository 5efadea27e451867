"""Indicators of pH: which colour stands for which pH, and what it can show.

Ranges of colour change as in tables of indicators (phenolphthalein 8.2 to 10.0, thymol blue 8.0 to
9.6, phenol red 6.8 to 8.4, bromothymol blue 6.0 to 7.6, methyl red 4.4 to 6.2). Litmus is too
coarse for the end of a rinse, and methyl orange changes so low that it proves no acid rinse.
"""

import dataclasses
from typing import Literal

Residue = Literal["caustic", "acid"]


@dataclasses.dataclass(frozen=True)
class Indicator:
    """An indicator, its colours below, within and above its range of pH, what it can show."""

    code: str
    name: str
    low: float
    high: float
    colours: tuple[str, str, str]
    shows: frozenset[Residue]

    def range_of(self, colour: str) -> tuple[float, float]:
        """The pH that a colour stands for, lowest and highest. ``KeyError`` for another colour."""
        ranges = ((0.0, self.low), (self.low, self.high), (self.high, 14.0))
        return dict(zip(self.colours, ranges, strict=True))[colour]


BOTH: frozenset[Residue] = frozenset({"caustic", "acid"})
INDICATORS: dict[str, Indicator] = {
    indicator.code: indicator
    for indicator in (
        Indicator(
            "phenolphthalein", "phenolphthalein", 8.2, 10.0,
            ("colourless", "pale pink", "pink"), frozenset({"caustic"}),
        ),
        Indicator(
            "thymol_blue", "thymol blue", 8.0, 9.6,
            ("yellow", "green", "blue"), frozenset({"caustic"}),
        ),
        Indicator("phenol_red", "phenol red", 6.8, 8.4, ("yellow", "orange", "red"), BOTH),
        Indicator(
            "bromothymol_blue", "bromothymol blue", 6.0, 7.6, ("yellow", "green", "blue"), BOTH
        ),
        Indicator(
            "methyl_red", "methyl red", 4.4, 6.2, ("red", "orange", "yellow"), frozenset({"acid"})
        ),
    )
}  # fmt: skip


def suiting(residue: Residue | None) -> tuple[Indicator, ...]:
    """The indicators that can show a residue; where it is not known, those that show both.

    ``residue`` is caustic or acid (no unit).
    """
    needed = BOTH if residue is None else {residue}
    return tuple(one for one in INDICATORS.values() if needed <= one.shows)


def nearest_in(low: float, high: float, *, aim: float) -> float:
    """The pH of a range from ``low`` to ``high`` that is nearest to ``aim`` (pH, no unit).

    A colour contradicts an end only where even that one does.

    >>> nearest_in(8.2, 10, aim=7), nearest_in(0, 8.2, aim=7)
    (8.2, 7)
    """
    return min(max(aim, low), high)

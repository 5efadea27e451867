"""How much of a trace has readings of a quantity, its gaps and its extremes."""

import dataclasses
from typing import TYPE_CHECKING

import numpy as np

from brewhygiene.science.errors import require

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray


@dataclasses.dataclass(frozen=True)
class Extremes:
    """Least and greatest reading of a quantity in its unit, with the seconds of the first each."""

    least: float
    least_at_s: float
    greatest: float
    greatest_at_s: float


def extremes_of(times_s: "FloatArray", values: "FloatArray") -> Extremes:
    """Extremes of readings ``values`` at ``times_s`` s, at least one, with the first of each."""
    low, high = int(np.argmin(values)), int(np.argmax(values))
    return Extremes(
        float(values[low]), float(times_s[low]), float(values[high]), float(times_s[high])
    )


def widest(one: Extremes, other: Extremes) -> Extremes:
    """The extremes of both, of which ``one`` came first."""
    low = one if one.least <= other.least else other
    high = one if one.greatest >= other.greatest else other
    return Extremes(low.least, low.least_at_s, high.greatest, high.greatest_at_s)


@dataclasses.dataclass(frozen=True)
class Coverage:
    """How much of a trace has readings of one quantity, and its extremes.

    ``minutes_known`` were bridged; ``longest_gap_min`` is the longest time without a reading,
    also at either end; ``gap_count`` counts those not bridged.
    """

    readings: int
    minutes_known: float
    longest_gap_min: float
    gap_count: int
    extremes: Extremes | None


class CoverageTally:
    """Readings and gaps of one quantity, added up over a trace that comes in parts, in order."""

    def __init__(self, *, max_gap_s: float = 60.0) -> None:
        """``max_gap_s`` s, above 0: the longest time between readings that a line may bridge."""
        require("longest gap to bridge", max_gap_s, unit="s", minimum=0, above=True)
        self.max_gap_s = max_gap_s
        self._readings = 0
        self._known_s = self._longest_gap_s = 0.0
        self._gap_count = 0
        self._extremes: Extremes | None = None
        self._last_s = 0.0
        self._end_s: float | None = None

    def add(self, seconds: "FloatArray", values: "FloatArray") -> None:
        """Add rows: ``seconds`` s in order, ``values`` with NaN for no reading."""
        if not len(seconds):
            return
        if self._end_s is None:
            self._last_s = float(seconds[0])  # a gap at the start counts from the first row
        self._end_s = float(seconds[-1])
        known = ~np.isnan(values)
        times_s, numbers = seconds[known], values[known]
        if not len(times_s):
            return
        found = extremes_of(times_s, numbers)
        self._extremes = found if self._extremes is None else widest(self._extremes, found)
        self._note(np.diff(times_s, prepend=self._last_s))
        self._readings += len(times_s)
        self._last_s = float(times_s[-1])

    def _note(self, steps_s: "FloatArray") -> None:
        gaps_s = steps_s[steps_s > self.max_gap_s]
        self._gap_count += len(gaps_s)
        self._longest_gap_s = max(self._longest_gap_s, float(steps_s.max()))
        bridged_s = float(steps_s.sum() - gaps_s.sum())
        if not self._readings and steps_s[0] <= self.max_gap_s:
            bridged_s -= float(steps_s[0])  # before the first reading there is none to bridge from
        self._known_s += bridged_s

    def result(self) -> Coverage:
        """What was added up; the tally may not be added to after it."""
        if self._end_s is not None:
            after_s = self._end_s - self._last_s
            self._longest_gap_s = max(self._longest_gap_s, after_s)
            self._gap_count += after_s > self.max_gap_s
        return Coverage(
            readings=self._readings,
            minutes_known=self._known_s / 60,
            longest_gap_min=self._longest_gap_s / 60,
            gap_count=self._gap_count,
            extremes=self._extremes,
        )

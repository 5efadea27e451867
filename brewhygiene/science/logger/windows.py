"""Minutes inside a window: of one quantity, or of several at once.

Between two readings no further apart than the longest gap to bridge, each quantity is taken as a
straight line, as for lethality. So the minutes are exact for such lines and do not depend on how
often the logger wrote.
"""

import dataclasses
import math
from typing import TYPE_CHECKING

import numpy as np

from brewhygiene.science.errors import require
from brewhygiene.science.logger.coverage import Extremes, extremes_of, widest

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

    Marks = np.ndarray[tuple[int], np.dtype[np.bool_]]

RUNS_KEPT = 50


@dataclasses.dataclass(frozen=True)
class Bound:
    """Least and most of one quantity (a key of ``QUANTITIES``, in its unit); ``None`` is none."""

    quantity: str
    minimum: float | None = None
    maximum: float | None = None


@dataclasses.dataclass(frozen=True)
class Window:
    """Bounds that have to hold together, over the trace or from ``from_s`` to ``until_s`` of it.

    ``hold_s`` asks for the runs inside that last at least so long.
    """

    label: str
    bounds: tuple[Bound, ...]
    from_s: float | None = None
    until_s: float | None = None
    hold_s: float | None = None


@dataclasses.dataclass(frozen=True)
class Run:
    """An unbroken stretch inside a window; ``entered`` if it was outside just before."""

    from_s: float
    length_s: float
    entered: bool


@dataclasses.dataclass(frozen=True)
class WindowResult:
    """How long a trace was inside a window.

    ``minutes_known`` were bridged by readings of all its quantities, ``minutes_inside`` of them
    inside; ``longest_gap_min`` is the longest time without such a reading, also at either end;
    ``gap_count`` counts those not bridged. ``runs`` are those of at least ``hold_s``, the first
    fifty of ``run_count``.
    """

    window: Window
    readings: int
    minutes_known: float
    minutes_inside: float
    longest_run: Run | None
    longest_gap_min: float
    gap_count: int
    extremes: dict[str, Extremes]
    runs: tuple[Run, ...]
    run_count: int


class WindowTally:
    """Time inside one window, added up over a trace that comes in parts, in order."""

    def __init__(self, window: Window, *, max_gap_s: float = 60.0) -> None:
        """``max_gap_s`` s, above 0: the longest time between readings that a line may bridge.

        Raises ``ValueError`` for a window without bounds, a bound that bounds nothing, or one
        whose minimum is above its maximum.
        """
        require("longest gap to bridge", max_gap_s, unit="s", minimum=0, above=True)
        if not window.bounds:
            raise ValueError("A window needs at least one bound.")
        for bound in window.bounds:
            if bound.minimum is None and bound.maximum is None:
                raise ValueError("A bound needs a minimum, a maximum or both.")
            if bound.minimum is None or bound.maximum is None:
                continue
            if bound.minimum > bound.maximum:
                raise ValueError("The minimum of a window is above its maximum.")
        self.window = window
        self.max_gap_s = max_gap_s
        self._from_s = -math.inf if window.from_s is None else window.from_s
        self._until_s = math.inf if window.until_s is None else window.until_s
        self._readings = 0
        self._known_s = self._inside_s = 0.0
        self._longest_gap_s = 0.0
        self._gap_count = 0
        self._extremes: dict[str, Extremes] = {}
        self._open: Run | None = None  # a run that goes on to the last reading so far
        self._was_outside = False  # whether the time just before the next reading is known outside
        self._longest: Run | None = None
        self._runs: list[Run] = []
        self._run_count = 0
        self._trace: tuple[float, float] | None = None
        self._first_s: float | None = None
        self._last_s: float | None = None
        self._last: dict[str, float] = {}

    def add(self, seconds: "FloatArray", values: "dict[str, FloatArray]") -> None:
        """Add rows: ``seconds`` s in order, ``values`` by quantity with NaN for no reading.

        Raises ``KeyError`` where a quantity of the window is not among ``values``.
        """
        if not len(seconds):
            return
        begin_s = float(seconds[0]) if self._trace is None else self._trace[0]
        self._trace = begin_s, float(seconds[-1])
        known = np.ones(len(seconds), dtype=bool)
        for bound in self.window.bounds:
            known &= ~np.isnan(values[bound.quantity])
        times_s = seconds[known]
        if not len(times_s):
            return
        columns = {bound.quantity: values[bound.quantity][known] for bound in self.window.bounds}
        self._note_readings(times_s, columns)
        if self._first_s is None:
            self._first_s = float(times_s[0])
        if self._last_s is not None:
            times_s = np.concatenate(([self._last_s], times_s))
            columns = {
                quantity: np.concatenate(([self._last[quantity]], numbers))
                for quantity, numbers in columns.items()
            }
        self._last_s = float(times_s[-1])
        self._last = {quantity: float(numbers[-1]) for quantity, numbers in columns.items()}
        self._add_lines(times_s, columns)

    def _note_readings(self, times_s: "FloatArray", columns: "dict[str, FloatArray]") -> None:
        span = (times_s >= self._from_s) & (times_s <= self._until_s)
        if not span.any():
            return
        times_s = times_s[span]
        self._readings += len(times_s)
        for quantity, numbers in columns.items():
            inside = numbers[span]
            found = extremes_of(times_s, inside)
            before = self._extremes.get(quantity)
            self._extremes[quantity] = found if before is None else widest(before, found)

    def _add_lines(self, times_s: "FloatArray", columns: "dict[str, FloatArray]") -> None:
        start_s, length_s = times_s[:-1], np.diff(times_s)
        span_from, span_until = self._span(start_s, length_s)
        in_span = (span_until > span_from) & (length_s > 0)
        bridged = in_span & (length_s <= self.max_gap_s)
        spanned_s = (span_until - span_from) * length_s
        gaps_s = spanned_s[in_span & ~bridged]
        self._gap_count += len(gaps_s)
        if in_span.any():
            self._longest_gap_s = max(self._longest_gap_s, float(spanned_s[in_span].max()))
        self._known_s += float(spanned_s[bridged].sum())
        first, last = self._shares(columns)
        enters, leaves = np.maximum(span_from, first), np.minimum(span_until, last)
        inside = bridged & (leaves > enters)
        inside_s = np.where(inside, (leaves - enters) * length_s, 0.0)
        self._inside_s += float(inside_s.sum())
        self._follow_runs(
            start_s + np.where(inside, enters, 0.0) * length_s,
            inside_s,
            inside,
            at_start=inside & (enters <= span_from),
            to_end=inside & (leaves >= 1),
            bridged=bridged,
            reached=span_from <= 0,
        )

    def _span(
        self, start_s: "FloatArray", length_s: "FloatArray"
    ) -> "tuple[FloatArray, FloatArray]":
        """The part of each line that lies in the window's own span, as shares of the line."""
        if self._from_s == -math.inf and self._until_s == math.inf:
            return np.zeros(len(start_s)), np.ones(len(start_s))
        with np.errstate(divide="ignore", invalid="ignore"):
            return (
                np.clip((self._from_s - start_s) / length_s, 0, 1),
                np.clip((self._until_s - start_s) / length_s, 0, 1),
            )

    def _shares(self, columns: "dict[str, FloatArray]") -> "tuple[FloatArray, FloatArray]":
        """From which to which share of each line all bounds hold; equal where nowhere.

        Nearly every line is inside or outside at both ends; the others alone are cut.
        """
        size = len(next(iter(columns.values()))) - 1
        whole, missed = np.ones(size, dtype=bool), np.zeros(size, dtype=bool)
        for bound in self.window.bounds:
            low, high = _edges(bound)
            below, above = columns[bound.quantity] < low, columns[bound.quantity] > high
            missed |= (below[:-1] & below[1:]) | (above[:-1] & above[1:])
            within = ~(below | above)
            whole &= within[:-1] & within[1:]
        first, last = np.zeros(size), whole.astype(float)
        cut = np.flatnonzero(~(whole | missed))
        if len(cut):
            last[cut] = 1.0
            for bound in self.window.bounds:
                numbers = columns[bound.quantity]
                enters, leaves = _shares_inside(numbers[cut], numbers[cut + 1], bound)
                first[cut] = np.maximum(first[cut], enters)
                last[cut] = np.minimum(last[cut], leaves)
        return first, last

    def _follow_runs(
        self,
        from_s: "FloatArray",
        inside_s: "FloatArray",
        inside: "Marks",
        *,
        at_start: "Marks",
        to_end: "Marks",
        bridged: "Marks",
        reached: "Marks",
    ) -> None:
        """Join the lines that are inside to runs, going on from the run that is still open."""
        if not len(inside):
            return
        places = np.flatnonzero(inside)
        # A line that is inside from its start has been outside before only if the line before
        # is known to be outside at its end.
        outside_before = np.concatenate(([self._was_outside], bridged[:-1] & ~to_end[:-1]))
        entered = inside & (~at_start | (outside_before & reached))
        self._was_outside = bool(bridged[-1] and not to_end[-1])
        if not len(places) or places[0] != 0 or not at_start[0]:
            self._close()
        if not len(places):
            return
        joined = (np.diff(places) == 1) & to_end[places[:-1]] & at_start[places[1:]]
        firsts = np.concatenate(([0], np.flatnonzero(~joined) + 1))
        lengths_s = np.add.reduceat(inside_s[places], firsts)
        starts_s, entries = from_s[places[firsts]], entered[places[firsts]]
        if self._open is not None:
            lengths_s[0] += self._open.length_s
            starts_s[0], entries[0] = self._open.from_s, self._open.entered
            self._open = None
        goes_on = bool(inside[-1] and to_end[-1])
        closed = len(firsts) - 1 if goes_on else len(firsts)
        self._keep_runs(starts_s[:closed], lengths_s[:closed], entries[:closed])
        if goes_on:
            self._open = Run(float(starts_s[-1]), float(lengths_s[-1]), bool(entries[-1]))

    def _close(self) -> None:
        if self._open is not None:
            run, self._open = self._open, None
            self._keep_runs(
                np.array([run.from_s]), np.array([run.length_s]), np.array([run.entered])
            )

    def _keep_runs(
        self,
        starts_s: "FloatArray",
        lengths_s: "FloatArray",
        entries: "Marks",
    ) -> None:
        if not len(lengths_s):
            return
        longest = int(np.argmax(lengths_s))
        if self._longest is None or lengths_s[longest] > self._longest.length_s:
            self._longest = _run(starts_s, lengths_s, entries, longest)
        if self.window.hold_s is None:
            return
        held = np.flatnonzero(lengths_s >= self.window.hold_s * (1 - 1e-9))
        self._run_count += len(held)
        for place in held[: RUNS_KEPT - len(self._runs)]:
            self._runs.append(_run(starts_s, lengths_s, entries, int(place)))

    def result(self) -> WindowResult:
        """What was added up; the tally may not be added to after it."""
        self._close()
        ends_s = self._end_gaps_s()
        longest_gap_s = max(self._longest_gap_s, *ends_s)
        gap_count = self._gap_count + sum(1 for end_s in ends_s if end_s > self.max_gap_s)
        return WindowResult(
            window=self.window,
            readings=self._readings,
            minutes_known=self._known_s / 60,
            minutes_inside=self._inside_s / 60,
            longest_run=self._longest,
            longest_gap_min=longest_gap_s / 60,
            gap_count=gap_count,
            extremes=dict(self._extremes),
            runs=tuple(self._runs),
            run_count=self._run_count,
        )

    def _end_gaps_s(self) -> tuple[float, float]:
        """The times before the first and after the last reading of all, within the span."""
        if self._trace is None:
            return 0.0, 0.0
        begin_s = max(self._trace[0], self._from_s)
        end_s = min(self._trace[1], self._until_s)
        if self._first_s is None or self._last_s is None:
            return max(end_s - begin_s, 0.0), 0.0
        before_s = min(self._first_s, end_s) - begin_s
        after_s = end_s - max(self._last_s, begin_s)
        return max(before_s, 0.0), max(after_s, 0.0)


def _run(
    starts_s: "FloatArray",
    lengths_s: "FloatArray",
    entries: "Marks",
    place: int,
) -> Run:
    return Run(float(starts_s[place]), float(lengths_s[place]), bool(entries[place]))


def _edges(bound: Bound) -> tuple[float, float]:
    """The bounds, which belong to the window, with a relative allowance of 1e-9.

    As :func:`~brewhygiene.science.judging.judge_window` has it.
    """
    low = -math.inf if bound.minimum is None else bound.minimum - abs(bound.minimum) * 1e-9
    high = math.inf if bound.maximum is None else bound.maximum + abs(bound.maximum) * 1e-9
    return low, high


def _shares_inside(
    start: "FloatArray", end: "FloatArray", bound: Bound
) -> "tuple[FloatArray, FloatArray]":
    """From which to which share of lines from ``start`` to ``end`` one bound holds."""
    low, high = _edges(bound)
    rise = end - start
    flat = rise == 0
    with np.errstate(divide="ignore", invalid="ignore"):
        to_low, to_high = (low - start) / rise, (high - start) / rise
    first = np.where(rise > 0, to_low, to_high)
    last = np.where(rise > 0, to_high, to_low)
    there = (start >= low) & (start <= high)
    first = np.where(flat, np.where(there, 0.0, 1.0), first)
    last = np.where(flat, np.where(there, 1.0, 0.0), last)
    return np.clip(first, 0, 1), np.clip(last, 0, 1)

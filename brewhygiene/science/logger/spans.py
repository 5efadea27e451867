"""What a trace shows within stretches of it, such as the steps of a clean, in one pass."""

import dataclasses
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from brewhygiene.science.errors import TooFewReadings, require
from brewhygiene.science.logger.evaluating import MAX_GAP_S, RinseRule
from brewhygiene.science.logger.reading import LoggerFileReader
from brewhygiene.science.logger.units import QUANTITIES
from brewhygiene.science.logger.windows import Bound, Run, Window, WindowResult, WindowTally
from brewhygiene.science.tank.lethality import Lethality, LethalityTally, Reference

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray


# A window takes in its bounds with a relative allowance of 1e-9, so this is outside of it.
JUST_BELOW = 3e-9


@dataclasses.dataclass(frozen=True)
class Span:
    """A stretch from ``from_s`` to ``until_s`` s of a trace, and what is asked of it.

    ``bounds`` are judged each alone and all together; those of quantities that the trace does
    not have are left out. ``rinse`` finds the end of a rinse, where there is conductivity.
    ``followed`` are quantities whose stretches below their minimum are wanted.
    """

    from_s: float
    until_s: float
    bounds: tuple[Bound, ...] = ()
    rinse: RinseRule | None = None
    followed: frozenset[str] = frozenset()


@dataclasses.dataclass(frozen=True)
class Last:
    """The last reading of a quantity within a span, in its unit, and its second."""

    value: float
    at_s: float


@dataclasses.dataclass(frozen=True)
class SpanResult:
    """What a trace shows within a span.

    ``seen`` says of each quantity how much of the span has it, with its extremes; ``alone`` and
    ``together`` are the minutes inside the bounds (``None`` without any); ``below`` are the
    stretches, in s, in which a followed quantity was below its minimum, ``None`` for more than
    are kept; ``rinsed`` is the last stay at the rinse's end of at least its holding time.
    """

    span: Span
    seen: dict[str, WindowResult]
    alone: dict[str, WindowResult]
    together: WindowResult | None
    below: dict[str, tuple[tuple[float, float], ...] | None]
    last: dict[str, Last]
    lethalities: tuple[Lethality, ...]
    rinsed: Run | None


class _SpanTally:
    """One span, added up over a trace that comes in parts."""

    def __init__(
        self,
        span: Span,
        *,
        quantities: tuple[str, ...],
        references: Sequence[Reference],
        max_gap_s: float,
    ) -> None:
        self.span = span
        self.quantities = quantities
        self.bounds = tuple(bound for bound in span.bounds if bound.quantity in quantities)
        self.last: dict[str, Last] = {}

        def tally(*bounds: Bound, hold_s: float | None = None) -> WindowTally:
            window = Window("span", bounds, span.from_s, span.until_s, hold_s)
            return WindowTally(window, max_gap_s=max_gap_s)

        # No possible reading lies below this: the window that holds them all.
        self.seen = {
            quantity: tally(Bound(quantity, QUANTITIES[quantity].least)) for quantity in quantities
        }
        self.alone = {bound.quantity: tally(bound) for bound in self.bounds}
        self.together = tally(*self.bounds) if self.bounds else None
        self.below = {
            bound.quantity: tally(
                Bound(bound.quantity, None, bound.minimum - abs(bound.minimum) * JUST_BELOW),
                hold_s=0,
            )
            for bound in self.bounds
            if bound.quantity in span.followed and bound.minimum is not None
        }
        self.lethal = [
            LethalityTally(reference=reference, max_gap_s=max_gap_s)
            for reference in references
            if "temperature_c" in quantities
        ]
        self.rinsed: WindowTally | None = None
        if span.rinse is not None and "conductivity_ms_cm" in quantities:
            require("conductivity of a rinse's end", span.rinse.end_ms_cm, unit="mS/cm",
                    minimum=0, above=True)  # fmt: skip
            self.rinsed = tally(
                Bound("conductivity_ms_cm", None, span.rinse.end_ms_cm), hold_s=span.rinse.hold_s
            )

    def add(self, seconds: "FloatArray", values: "dict[str, FloatArray]") -> None:
        tallies = (*self.seen.values(), *self.alone.values(), *self.below.values())
        for tally in (*tallies, self.together, self.rinsed):
            if tally is not None:
                tally.add(seconds, values)
        first = int(seconds.searchsorted(self.span.from_s))
        end = int(seconds.searchsorted(self.span.until_s, side="right"))
        times_s = seconds[first:end]
        if not len(times_s):
            return
        for heat in self.lethal:
            heat.add(times_s, values["temperature_c"][first:end])
        for quantity in self.quantities:
            known = np.flatnonzero(~np.isnan(values[quantity][first:end]))
            if len(known):
                at = int(known[-1])
                self.last[quantity] = Last(float(values[quantity][first + at]), float(times_s[at]))

    def result(self) -> SpanResult:
        runs = self.rinsed.result().runs if self.rinsed is not None else ()
        lethalities = []
        for heat in self.lethal:
            try:
                lethalities.append(heat.result())
            except TooFewReadings:
                continue  # said by the readings that are there: none, or one
        return SpanResult(
            span=self.span,
            seen={quantity: tally.result() for quantity, tally in self.seen.items()},
            alone={quantity: tally.result() for quantity, tally in self.alone.items()},
            together=self.together.result() if self.together is not None else None,
            below={quantity: _stretches(tally.result()) for quantity, tally in self.below.items()},
            last=self.last,
            lethalities=tuple(lethalities),
            rinsed=runs[-1] if runs else None,
        )


def _stretches(found: WindowResult) -> tuple[tuple[float, float], ...] | None:
    """The stretches of a window, s; one that ends in a gap goes on to the one after it."""
    if found.run_count > len(found.runs):
        return None
    stretches: list[tuple[float, float]] = []
    for run in found.runs:
        until_s = run.from_s + run.length_s
        if stretches and not run.entered:
            stretches[-1] = (stretches[-1][0], until_s)
        else:
            stretches.append((run.from_s, until_s))
    return tuple(stretches)


def measure(
    reader: LoggerFileReader,
    *,
    spans: Sequence[Span],
    references: Sequence[Reference] = (),
    max_gap_s: float = MAX_GAP_S,
) -> tuple[SpanResult, ...]:
    """Read a trace once and say what each of ``spans`` shows, in the order asked.

    ``reader`` has not been read yet; ``references`` are what lethality is measured against;
    ``max_gap_s`` s, above 0, the longest time between readings that is bridged. Raises
    :class:`~brewhygiene.science.logger.problems.LoggerFileUnreadable` as the reader does.
    """
    require("longest gap to bridge", max_gap_s, unit="s", minimum=0, above=True)
    quantities = tuple(each.quantity for each in reader.mapping.columns)
    tallies = [
        _SpanTally(span, quantities=quantities, references=references, max_gap_s=max_gap_s)
        for span in spans
    ]
    for part in reader:
        for tally in tallies:
            tally.add(part.seconds, part.values)
    return tuple(tally.result() for tally in tallies)

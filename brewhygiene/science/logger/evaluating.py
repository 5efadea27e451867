"""One pass over a logger file: minutes inside windows, gaps, lethality, rinse ends, phases."""

import dataclasses
import datetime as dt
from collections.abc import Sequence

from brewhygiene.science.errors import TooFewReadings, require
from brewhygiene.science.logger.buckets import Buckets, Thinned
from brewhygiene.science.logger.coverage import Coverage, CoverageTally, Extremes
from brewhygiene.science.logger.phases import Phase, PhaseRule, find_phases
from brewhygiene.science.logger.problems import LoggerFileUnreadable
from brewhygiene.science.logger.reading import LoggerFileReader, Tally
from brewhygiene.science.logger.units import QUANTITIES
from brewhygiene.science.logger.windows import Bound, Run, Window, WindowResult, WindowTally
from brewhygiene.science.tank.lethality import PASTEURISATION, Lethality, LethalityTally, Reference

MAX_GAP_S = 60.0
PLOT_BUCKETS = 1000
PHASE_BUCKETS = 10_000


@dataclasses.dataclass(frozen=True)
class RinseRule:
    """A rinse ends where conductivity falls to ``end_ms_cm`` and stays there for ``hold_s``.

    ``end_ms_cm`` is usually the tap's of the same day with a little allowance.
    """

    end_ms_cm: float
    hold_s: float = 60.0


@dataclasses.dataclass(frozen=True)
class Evaluation:
    """What a trace shows. Seconds are since ``start``, its first row.

    ``coverage`` says of each quantity how much of the trace has it; ``windows`` are in the order
    asked; ``lethalities`` one for each reference, none without temperatures; ``rinse_ends``
    the moments at which conductivity came down to the rinse's end and stayed; ``began_rinsed``
    whether it was there at the very start.
    """

    start: dt.datetime | None
    duration_s: float
    tally: Tally
    max_gap_s: float
    coverage: dict[str, Coverage]
    windows: tuple[WindowResult, ...]
    lethalities: tuple[Lethality, ...]
    rinse_ends: tuple[Run, ...]
    began_rinsed: bool
    phases: tuple[Phase, ...]
    plots: dict[str, Thinned]

    @property
    def extremes(self) -> dict[str, Extremes]:
        """Least and greatest reading of each quantity that has one."""
        return {
            quantity: found.extremes
            for quantity, found in self.coverage.items()
            if found.extremes is not None
        }


def evaluate(
    reader: LoggerFileReader,
    *,
    windows: Sequence[Window] = (),
    references: Sequence[Reference] = (PASTEURISATION,),
    lethal_from_s: float | None = None,
    lethal_until_s: float | None = None,
    rinse: RinseRule | None = None,
    rule: PhaseRule | None = None,
    max_gap_s: float = MAX_GAP_S,
    plot_buckets: int = PLOT_BUCKETS,
) -> Evaluation:
    """Read a trace once and say what it shows, in memory that does not grow with it.

    ``reader`` has not been read yet; ``windows`` bound quantities that its mapping has;
    ``references`` are what lethality is measured against, between ``lethal_from_s`` and
    ``lethal_until_s`` s (the readings in it) or over the whole trace; ``rinse`` and ``rule`` for
    rinse ends and phases; ``max_gap_s`` s, above 0, the longest time between readings that is
    bridged, in everything; ``plot_buckets`` for the pictures. Raises :class:`LoggerFileUnreadable`
    as the reader does and for a window of a quantity that is not mapped.
    """
    require("longest gap to bridge", max_gap_s, unit="s", minimum=0, above=True)
    quantities = tuple(each.quantity for each in reader.mapping.columns)
    _check_windows(windows, quantities)
    covered = {quantity: CoverageTally(max_gap_s=max_gap_s) for quantity in quantities}
    asked = [WindowTally(window, max_gap_s=max_gap_s) for window in windows]
    rinsed = _rinse_tally(rinse, quantities, max_gap_s)
    lethal = [
        LethalityTally(reference=reference, max_gap_s=max_gap_s)
        for reference in references
        if "temperature_c" in quantities
    ]
    buckets = Buckets(quantities=quantities, limit=PHASE_BUCKETS)
    for part in reader:
        for quantity, coverage in covered.items():
            coverage.add(part.seconds, part.values[quantity])
        for tally in (*asked, *([rinsed] if rinsed else [])):
            tally.add(part.seconds, part.values)
        for heat in lethal:
            span = slice(None)
            if lethal_from_s is not None or lethal_until_s is not None:
                first = part.seconds.searchsorted(lethal_from_s or 0.0)
                last = len(part.seconds)
                if lethal_until_s is not None:
                    last = int(part.seconds.searchsorted(lethal_until_s, side="right"))
                span = slice(int(first), last)
            heat.add(part.seconds[span], part.values["temperature_c"][span])
        buckets.add(part.seconds, part.values)
    plots = buckets.coarser(plot_buckets)
    rinse_runs = rinsed.result().runs if rinsed else ()
    return Evaluation(
        start=reader.tally.start,
        duration_s=reader.tally.duration_s,
        tally=reader.tally,
        max_gap_s=max_gap_s,
        coverage={quantity: tally.result() for quantity, tally in covered.items()},
        windows=tuple(tally.result() for tally in asked),
        lethalities=_lethalities(lethal),
        rinse_ends=tuple(run for run in rinse_runs if run.entered),
        began_rinsed=any(run.from_s <= 0 for run in rinse_runs),
        phases=find_phases(buckets, quantities=quantities, rule=rule, max_gap_s=max_gap_s),
        plots={quantity: plots.thinned(quantity, max_gap_s=max_gap_s) for quantity in quantities},
    )


def _check_windows(windows: Sequence[Window], quantities: tuple[str, ...]) -> None:
    for window in windows:
        for bound in window.bounds:
            if bound.quantity not in quantities:
                known = QUANTITIES.get(bound.quantity)
                raise LoggerFileUnreadable(
                    f"“{window.label}” bounds {known.label if known else bound.quantity}, for "
                    "which no column is chosen.",
                    field=bound.quantity,
                )


def _rinse_tally(
    rinse: RinseRule | None, quantities: tuple[str, ...], max_gap_s: float
) -> WindowTally | None:
    if rinse is None:
        return None
    require("conductivity of a rinse's end", rinse.end_ms_cm, unit="mS/cm", minimum=0, above=True)
    require("time that it has to stay", rinse.hold_s, unit="s", minimum=0)
    if "conductivity_ms_cm" not in quantities:
        raise LoggerFileUnreadable(
            "The end of a rinse needs conductivity, for which no column is chosen.",
            field="conductivity_ms_cm",
        )
    window = Window(
        "rinsed",
        (Bound("conductivity_ms_cm", None, rinse.end_ms_cm),),
        hold_s=rinse.hold_s,
    )
    return WindowTally(window, max_gap_s=max_gap_s)


def _lethalities(tallies: list[LethalityTally]) -> tuple[Lethality, ...]:
    found = []
    for tally in tallies:
        try:
            found.append(tally.result())
        except TooFewReadings:
            continue  # said by the readings that are there: none, or one
    return tuple(found)

"""The invented brewery's paper year: who was cleaned when, and what was read."""

import dataclasses
import itertools
import math
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime

from brewhygiene.atp.models.causes import Cause
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTestLot, ControlCheck
from brewhygiene.cellar.models import Beer, Fill, SamplingPoint, Vessel
from brewhygiene.demo import cleaning
from brewhygiene.demo.brewery import InventedBrewery
from brewhygiene.demo.paper_year.faults import (
    CAUSTIC_LOT,
    METER_AWAY,
    METER_BACK,
    PAPER_BEGINS,
    PAPER_ENDS,
    SWAB_LOT,
    Code,
    Fault,
    Slip,
    fault_of,
    faults_at,
    slip_at,
)
from brewhygiene.demo.paper_year.rows import (
    PaperClean,
    PaperPlate,
    PaperReading,
    PaperStep,
    PaperSwab,
    PaperTurn,
)
from brewhygiene.demo.readings import rlu_read
from brewhygiene.demo.stage import Stage
from brewhygiene.regimes.models import Quantity, RegimeVersion, Step, StepKind, StepWindow

HOT, COLD_ACID = "Fermenter, hot caustic", "Bright tank, acid only under CO2"
YEAST = "Yeast vessel, hot caustic"
AFTER_SOUR = "After sour, mixed-culture or diastatic beer"
BRIGHT_CAUSTIC = "Bright tank, caustic with the CO2 purged"


@dataclasses.dataclass(frozen=True)
class Rhythm:
    """How often a vessel is turned round, in days, and what goes through it.

    The last of ``beers`` is what it holds when the log ends; the rest come round in turn.
    ``other`` is the regime of every n-th clean, counted back from the last, which is one of them.
    """

    every: float
    beers: tuple[str, ...]
    regime: str
    other: str = ""
    nth: int = 0


RHYTHMS: Mapping[str, Rhythm] = {
    "FV 1": Rhythm(8, ("lager", "pale", "pale"), HOT),
    "FV 2": Rhythm(8, ("pale", "pale", "pale", "lager", "saison"), HOT),
    "FV 3": Rhythm(8, ("pale", "sour", "pale", "lager", "pale"), HOT),
    "FV 4": Rhythm(8, ("lager", "pale", "lager"), HOT),
    "FV 5": Rhythm(8, ("pale", "lager", "fruited", "pale"), HOT),
    "BT 1": Rhythm(7, ("lager", "pale"), COLD_ACID, BRIGHT_CAUSTIC, 8),
    "BT 2": Rhythm(7, ("lager", "pale"), COLD_ACID, BRIGHT_CAUSTIC, 8),
    "YV 1": Rhythm(12, ("pale",), YEAST),
    "HX 1": Rhythm(
        12,
        ("pale",),
        "Heat exchanger and wort line",
        "Heat exchanger and wort line, with the weekly acid",
        3,
    ),
    "Hose set A": Rhythm(16, ("pale",), "Hoses"),
    "Tap line 3": Rhythm(
        14,
        ("pale",),
        "Draught line, circulating, every 14 days",
        "Draught line, with acid, every 3 months",
        6,
    ),
    "Keg run": Rhythm(16, ("lager",), "Kegs"),
}
# Lots of caustic, acid and sanitiser: how many days each was used.
CAUSTIC_DAYS, ACID_DAYS, PERACETIC_DAYS = 30, 60, 40
# By sample kind: lots of swabs with the day from which each was used, the newest first.
SWAB_LOTS: Mapping[str, tuple[tuple[int, str], ...]] = {
    "rinse": (
        (90, "R-0733"),
        (170, "R-0581"),
        (250, "R-0466"),
        (330, "R-0350"),
        (PAPER_BEGINS, "R-0214"),
    ),
    "surface": (
        (118, "S-0419"),
        (141, SWAB_LOT),
        (230, "S-0296"),
        (320, "S-0207"),
        (PAPER_BEGINS, "S-0121"),
    ),
}
RINSE_FLOW_L_MIN = (110, 150)
FAULT_CAUSES: Mapping[Code, tuple[Cause, str]] = {
    Code.GASKET: (Cause.NOT_FOUND, "Gasket looked whole from outside"),
    Code.SPRAY: (Cause.NOT_FOUND, "Cleaned again by hand, nothing seen"),
    Code.CAUSTIC: (Cause.WEAK_SOLUTION, "Titrated low all week"),
}
ACCEPTED = (
    "Read again at the end: in its window",
    "Boiler was slow; ten minutes more were given",
    "Topped up while it ran",
)

# As long as the swabs of a whole vessel take.
SAMPLE_MIN = 16


class PaperPlan:
    """The lines of the paper log, worked out from the rhythms, the faults and a chance."""

    def __init__(
        self,
        stage: Stage,
        brewery: InventedBrewery,
        *,
        swabs: Mapping[str, Sequence[tuple[int, AtpTestLot]]],
        limits: Mapping[tuple[str, str], LimitSet],
        checks: Mapping[tuple[str, date], ControlCheck],
    ) -> None:
        """``swabs``: by sample kind, lots with the day (before today) from which each was used."""
        self.stage = stage
        self.brewery = brewery
        self.swabs = swabs
        self.limits = limits
        self.checks = checks
        self.chance = random.Random()
        self._page = itertools.count(1)
        self._steps: dict[str, list[Step]] = {}
        self._points = {
            vessel.name: list(vessel.points.filter(active=True).select_related("vessel"))
            for vessel in brewery.vessels.values()
        }

    def days(self) -> list[tuple[datetime, str, int]]:
        """When each vessel is emptied, whose it is, and how many turns of it follow."""
        found = []
        for name, rhythm in RHYTHMS.items():
            chance = random.Random(f"days of {name}")
            day = PAPER_ENDS + chance.uniform(0, rhythm.every / 2)
            for left in itertools.count():
                if day > PAPER_BEGINS:
                    break
                clock = f"{chance.randint(6, 10):02d}:{chance.randint(0, 59):02d}"
                found.append((self.stage.at(round(day), clock), name, left))
                day += rhythm.every * chance.uniform(0.85, 1.15)
        return sorted(found)

    def turn(self, emptied: datetime, name: str, left: int, held: Fill | None) -> PaperTurn:
        """One line of the log, with ``left`` more of its vessel to come."""
        # Of its own for each turn: what is read in one moves nothing in another.
        self.chance = random.Random(f"{name} {left}")
        rhythm, vessel = RHYTHMS[name], self.brewery.vessels[name]
        before, after = (self._beer(rhythm, left + 1), self._beer(rhythm, left))
        who = self.brewery.people[self.chance.choice(("jonas", "priya"))]
        if self.chance.random() < 0.04:
            who = self.brewery.people["mara"]
        version = self.brewery.version(self._regime(rhythm, left, before))
        slips = [
            slip
            for point in self._points[name]
            if (slip := slip_at(vessel=name, point=point.name, left=left))
        ]
        first, faults = self._clean(vessel, version, emptied, slips=slips)
        cleans, cause, note = [first], "", ""
        if any(self._over(swab) for swab in first.swabs):
            second, _ = self._clean(vessel, version, emptied, again=True)
            cleans.append(second)
            cause, note = self._cause(faults, slips)
        page = next(self._page)
        return PaperTurn(
            page=f"page {page // 12 + 1}, line {page % 12 + 1}",
            vessel=vessel,
            emptied_at=emptied,
            held=held,
            beer_before=before,
            beer=after,
            batch=f"P-{page:03d}",
            who=who,
            releases=self.brewery.people["mara"],
            cleans=cleans,
            plates=list(self._plates(vessel, first, faults)),
            cause=cause,
            cause_note=note,
        )

    def _beer(self, rhythm: Rhythm, left: int) -> Beer:
        """What goes in at the end of a turn with ``left`` to come."""
        return self.brewery.beers[rhythm.beers[-1 - left % len(rhythm.beers)]]

    def _regime(self, rhythm: Rhythm, left: int, before: Beer) -> str:
        if rhythm.regime in (HOT, YEAST) and (before.sour_or_mixed or before.diastatic):
            return AFTER_SOUR
        if rhythm.other and left % rhythm.nth == 0:
            return rhythm.other
        return rhythm.regime

    def _over(self, swab: PaperSwab) -> bool:
        return swab.limits is not None and swab.rlu > swab.limits.action_rlu

    def _cause(self, faults: Sequence[Fault], slips: Sequence[Slip]) -> tuple[str, str]:
        for slip in slips:
            return slip.cause, slip.note
        for fault in faults:
            if fault.code in FAULT_CAUSES:
                return FAULT_CAUSES[fault.code]
        return Cause.NOT_FOUND, "Taken apart, nothing seen"

    # --- one clean --------------------------------------------------------------------------

    def _clean(
        self,
        vessel: Vessel,
        version: RegimeVersion,
        emptied: datetime,
        *,
        slips: Sequence[Slip] = (),
        again: bool = False,
    ) -> tuple[PaperClean, list[Fault]]:
        days_ago = self.stage.days_ago(emptied)
        steps = [self._step(step, days_ago) for step in self._steps_of(version)]
        lots = {one.agent_lot for one in steps if one.agent_lot}
        swabs, found = [], []
        meter = "b" if METER_BACK < days_ago <= METER_AWAY else "a"
        for point in self._points[vessel.name]:
            lot = self._test_lot(point, days_ago)
            faults = faults_at(
                days_ago,
                vessel=vessel.name,
                point=point.name,
                test_lot=lot.lot,
                agent_lots=lots,
            )
            found += faults
            # A second clean, by hand, takes away what was left.
            soil = 0.0 if again else sum(fault.adds_at(days_ago) for fault in faults)
            soil += sum(slip.adds_rlu for slip in slips if slip.point == point.name)
            times = math.prod(fault.times_at(days_ago) for fault in faults)
            swabs.append(self._swab(point, lot, emptied, meter=meter, soil=soil, times=times))
        return PaperClean(version=version, steps=steps, swabs=swabs), found

    def _swab(
        self,
        point: SamplingPoint,
        lot: AtpTestLot,
        emptied: datetime,
        *,
        meter: str,
        soil: float,
        times: float,
    ) -> PaperSwab:
        kind = point.sample_kind
        day = emptied.astimezone(self.stage.zone).date()
        return PaperSwab(
            point=point,
            meter=self.brewery.meters[meter],
            lot=lot,
            rlu=rlu_read(
                self.chance,
                point=point.name,
                kind=kind,
                adds_rlu=soil,
                times=times,
                meter=meter,
            ),
            limits=self.limits[kind, point.moment] if meter == "a" else None,
            check=self.checks.get((meter, day)),
        )

    def _test_lot(self, point: SamplingPoint, days_ago: float) -> AtpTestLot:
        return next(lot for begins, lot in self.swabs[point.sample_kind] if days_ago <= begins)

    def _steps_of(self, version: RegimeVersion) -> list[Step]:
        name = version.regime.name
        if name not in self._steps:
            steps = version.steps.select_related("agent").prefetch_related("windows")
            self._steps[name] = list(steps)
        return self._steps[name]

    def _step(self, step: Step, days_ago: float) -> PaperStep:
        if step.kind == StepKind.SAMPLE:
            cool = [PaperReading(w.quantity, cleaning.RINSE_C, w) for w in step.windows.all()]
            return PaperStep(step, SAMPLE_MIN, cool)
        agent_lot = self._agent_lot(step.kind, days_ago) if step.agent_id else ""
        if step.kind == StepKind.ACID and self.chance.random() < 0.012:
            return PaperStep(step, 0, left_out=True, missed="Acid drum empty; next clean has it")
        minutes = round(cleaning.minutes_of_step(self.chance, step), 1)
        readings = [self._reading(window, minutes, agent_lot) for window in step.windows.all()]
        if step.kind in (StepKind.RINSE, StepKind.PRE_RINSE):
            flow = round(self.chance.uniform(*RINSE_FLOW_L_MIN))
            if not any(reading.quantity == Quantity.FLOW_L_MIN for reading in readings):
                readings.append(PaperReading(Quantity.FLOW_L_MIN, flow))
        missed = ""
        if step.kind == StepKind.RINSE and self.chance.random() < 0.008:
            missed = "Reads as the tap does today"
        return PaperStep(step, minutes, readings, agent_lot=agent_lot, missed=missed)

    def _agent_lot(self, kind: str, days_ago: float) -> str:
        """The lot in use; the weak drum of caustic came between two others."""
        weak = fault_of(Code.CAUSTIC)
        if kind == StepKind.CAUSTIC and weak.on_at(days_ago):
            return CAUSTIC_LOT
        days = {StepKind.CAUSTIC: CAUSTIC_DAYS, StepKind.ACID: ACID_DAYS}
        letter = {StepKind.CAUSTIC: "C", StepKind.ACID: "N"}
        number = 400 - int(days_ago // days.get(StepKind(kind), PERACETIC_DAYS))
        return f"{letter.get(StepKind(kind), 'P')}-{number:04d}"

    def _reading(self, window: StepWindow, minutes: float, agent_lot: str) -> PaperReading:
        if window.quantity == Quantity.TIME_MIN:
            return PaperReading(window.quantity, minutes, window)
        if window.quantity == Quantity.CONCENTRATION and agent_lot == CAUSTIC_LOT:
            aim = window.target or window.minimum or 2
            value = round(aim * self.chance.uniform(0.55, 0.8), 2)
            return PaperReading(
                window.quantity, value, window, "Titrated when the caustic was nearly through"
            )
        low = (
            window.quantity == Quantity.TEMPERATURE_C
            and window.minimum is not None
            and self.chance.random() < 0.03
        )
        value = cleaning.value_of(self.chance, window, low=low)
        return PaperReading(window.quantity, value, window, self.chance.choice(ACCEPTED))

    # --- plates -----------------------------------------------------------------------------

    def _plates(
        self, vessel: Vessel, clean: PaperClean, faults: Sequence[Fault]
    ) -> Iterator[PaperPlate]:
        """Now and then a plate; oftener where something read high or is known to be wrong."""
        dirty = [f for f in faults if f.code in (Code.SPRAY, Code.GASKET, Code.CAUSTIC)]
        over = [swab for swab in clean.swabs if self._over(swab)]
        if self.chance.random() > (0.6 if dirty or over else 0.22):
            return
        touched = [swab for swab in clean.swabs if self._touched(swab, dirty)]
        swab = self.chance.choice(over or touched or list(clean.swabs))
        grows = 0.6 if over else 0.4 if dirty else 0.03
        if self.chance.random() < grows:
            organism = self.chance.choice(("wild yeast", "lactic rods", "acetic rods"))
            yield PaperPlate(swab.point, organism, self.chance.randint(2, 60))
        else:
            yield PaperPlate(swab.point)

    def _touched(self, swab: PaperSwab, faults: Iterable[Fault]) -> bool:
        return any(fault.point in ("", swab.point.name) for fault in faults)

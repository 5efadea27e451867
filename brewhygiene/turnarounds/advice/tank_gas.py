"""What CO2 left in a closed vessel, or its cooling, would do in a step. No queries.

An estimate to stop and think by; it never takes the place of a caution.
"""

import dataclasses
from urllib.parse import urlencode

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.regimes.cautions import CLOSED_VESSELS, is_hot
from brewhygiene.regimes.models import Quantity, Step, StepKind
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.density import solution_density_kg_l
from brewhygiene.science.solutions.strength import NotConvertible
from brewhygiene.science.tank.tank_gas import (
    ATMOSPHERE_MBAR,
    CAUSTIC_G_MOL,
    CausticLoss,
    caustic_for_co2_kg,
    caustic_loss,
    co2_in_headspace_kg,
    pressure_abs_mbar,
    purge,
)
from brewhygiene.science.tank.vacuum import STATIC_ONLY, closed_vessel_vacuum
from brewhygiene.science.working import WorkingLine, shown
from brewhygiene.turnarounds.advice.what_to_add import (
    BENCH_UNITS,
    aim_of,
    by_weight,
    mass_words,
    solution_words,
)
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.progress import CleanProgress

USUAL_C = 20.0
# A vessel that was only emptied is counted as full of it; a purged one as purged to this.
FULL, PURGED_TO = 1.0, 0.01
# Above it a vessel is full of steam alone, and the gas of the sum is none.
HOTTEST_C = 99.0


@dataclasses.dataclass(frozen=True)
class GasGiven:
    """What is assumed of the gas: °C and bar above the air, and L of solution where known."""

    temperature_c: float = USUAL_C
    gauge_bar: float = 0.0
    solution_l: float | None = None


@dataclasses.dataclass(frozen=True)
class Estimate:
    """The estimate in words: rows of what and how much, sentences, the working.

    ``vented`` is the vent step that was done in this clean, if one was. ``over`` says that the
    vessel's rating would be passed, or that none is on record.
    """

    vented: StepRecord | None
    assumed: str
    rows: tuple[tuple[str, str], ...]
    vacuums: tuple[tuple[str, str], ...]
    over: bool
    missing: tuple[str, ...]
    working: tuple[WorkingLine, ...]
    static: str = STATIC_ONLY
    refusal: str = ""
    bench_query: str = ""


def vent_done(progress: CleanProgress) -> StepRecord | None:
    """The vent step of a clean that was done, its latest attempt; left out does not count."""
    done = [i for i in progress.steps if i.step.kind == StepKind.VENT and i.state == "done"]
    return done[-1].record if done else None


def _usual_c(step: Step) -> float | None:
    """The temperature that a step aims for, °C."""
    window = step.window(Quantity.TEMPERATURE_C)
    aim = aim_of(window) if window else None
    return aim[0] if aim else None


def _degrees(value_c: float, brewery: Brewery) -> str:
    shown_unit = brewery.temperature_unit
    return f"{show_number(convert(value_c, 'C', shown_unit), significant=3)} {LABELS[shown_unit]}"


def estimate_of(
    step: Step,
    vessel: Vessel,
    *,
    progress: CleanProgress,
    co2_left: bool,
    given: GasGiven,
    brewery: Brewery,
) -> Estimate | None:
    """The estimate before a caustic or hot step of a closed vessel; ``None`` where none is due.

    Caustic where ``co2_left`` (as the emptying says); a hot step always, for its cooling.
    ``step`` with agent and windows loaded. 0 queries.
    """
    if vessel.kind not in CLOSED_VESSELS:
        return None
    caustic = step.kind == StepKind.CAUSTIC and co2_left
    hot_c = _usual_c(step) if is_hot(step) else None
    if not caustic and hot_c is None:
        return None
    vented = vent_done(progress)
    share = FULL if vented is None else PURGED_TO
    try:
        return _Sum(step, vessel, given, brewery, vented, share, hot_c).estimate(caustic=caustic)
    except (OutOfRange, NotConvertible) as refused:
        return Estimate(vented, "", (), (), True, (), (), refusal=str(refused))


@dataclasses.dataclass
class _Sum:
    """The parts of an estimate as they are worked out."""

    step: Step
    vessel: Vessel
    given: GasGiven
    brewery: Brewery
    vented: StepRecord | None
    share: float
    hot_c: float | None

    def __post_init__(self) -> None:
        self.rows: list[tuple[str, str]] = []
        self.vacuums: list[tuple[str, str]] = []
        self.missing: list[str] = []
        self.working: list[WorkingLine] = []
        self.over = False
        self.query = ""

    def estimate(self, *, caustic: bool) -> Estimate:
        assumed = ""
        if caustic:
            percent = show_number(self.share * 100)
            full = "full of CO2" if self.share == FULL else f"purged to {percent} % CO2"
            assumed = (
                f"Counted as {full}, at {_degrees(self.given.temperature_c, self.brewery)} and "
                f"{show_number(self.given.gauge_bar)} bar gauge pressure, the whole volume as gas."
            )
            self._gas()
        if self.hot_c is not None and self.hot_c > self.brewery.supply_water_c:
            self._cooling(caustic=caustic)
        return Estimate(
            vented=self.vented,
            assumed=assumed,
            rows=tuple(self.rows),
            vacuums=tuple(self.vacuums),
            over=self.over,
            missing=tuple(self.missing),
            working=tuple(self.working),
            bench_query=self.query,
        )

    def _gas(self) -> None:
        given, vessel, agent = self.given, self.vessel, self.step.agent
        substance = agent.active_substance if agent else "NaOH"
        name = substance if substance in CAUSTIC_G_MOL else "NaOH"
        pressure = pressure_abs_mbar(gauge_mbar=given.gauge_bar * 1000)
        co2_kg = co2_in_headspace_kg(
            volume_hl=vessel.volume_hl,
            temperature_c=given.temperature_c,
            pressure_abs_mbar=pressure,
            co2_fraction=self.share,
        )
        eaten_kg = caustic_for_co2_kg(co2_kg=co2_kg, caustic=name)
        self.working.append(
            WorkingLine(
                "CO2 in the vessel", "y P V M / (R T)",
                f"{shown(self.share)} × {shown(pressure / 10)} kPa × {shown(vessel.volume_hl / 10)}"
                f" m³ × {shown(44.0095, significant=6)} / ({shown(8.3145)} × "
                f"{shown(given.temperature_c + 273.15)})",
                co2_kg, "kg",
            )
        )  # fmt: skip
        self.rows += [
            ("CO2 in the vessel", mass_words(co2_kg, significant=2)),
            (f"{name} used up by it", mass_words(eaten_kg, significant=2)),
        ]
        strength_ww = self._planned_ww()
        self._strength_left(name, co2_kg, strength_ww)
        if self.share == FULL:
            air = purge(
                volume_hl=vessel.volume_hl, co2_fraction=self.share, target_fraction=PURGED_TO
            )
            air_shown = convert(air.air_hl, "hL", self.brewery.volume_unit)
            unit = LABELS[self.brewery.volume_unit]
            times, amount = (show_number(v, significant=2) for v in (air.volumes, air_shown))
            words = (
                f"{times} times its volume, {amount} {unit}, if ideally mixed. Measure CO2 anyway"
            )
            self.rows.append(("Air to purge below 1 % CO2", words))
            self.working += air.working
        self._vacuum(
            "All of that CO2 absorbed",
            temperature_c=given.temperature_c,
            final_c=given.temperature_c,
            pressure_mbar=pressure,
            share=self.share,
        )
        self.query = urlencode(
            {
                "volume": vessel.volume_hl,
                "rating": "" if vessel.vacuum_rating_mbar is None else vessel.vacuum_rating_mbar,
                "temperature": given.temperature_c,
                "gauge": given.gauge_bar * 1000,
                "co2": self.share * 100,
                "substance": name,
                **({} if given.solution_l is None else {"solution": given.solution_l}),
                **({} if strength_ww is None else {"strength": round(strength_ww, 4)}),
                "target": PURGED_TO * 100,
                "units": BENCH_UNITS,
            }
        )

    def _planned_ww(self) -> float | None:
        """The strength that the step aims for, % w/w; ``None`` where its window has none."""
        window, agent = self.step.window(Quantity.CONCENTRATION), self.step.agent
        aim = aim_of(window) if window else None
        if window is None or agent is None or aim is None:
            return None
        return by_weight(aim[0], basis=window.basis, agent=agent)

    def _strength_left(self, name: str, co2_kg: float, strength_ww: float | None) -> None:
        if strength_ww is None:
            self.missing.append(
                "The regime sets no strength, so the strength left cannot be calculated."
            )
            return
        litres = self.given.solution_l
        if litres is None:
            self.missing.append(
                "The volume of solution is not on record, so the strength left cannot be "
                "calculated."
            )
            return
        density = solution_density_kg_l(solute=name, strength_ww=strength_ww, temperature_c=20.0)
        loss: CausticLoss = caustic_loss(
            co2_kg=co2_kg, solution_kg=litres * density, strength_ww=strength_ww, caustic=name
        )
        planned = f"{show_number(strength_ww, significant=3)} % w/w"
        left = f"{show_number(loss.strength_left_ww, significant=3)} % w/w of {planned}"
        if loss.exhausted:
            masses = (loss.caustic_before_kg, loss.caustic_short_kg)
            held, short = (mass_words(kg, significant=2) for kg in masses)
            left = f"nothing of {planned}: it contains {held}, {short} too little"
        self.rows.append((f"Left in {solution_words(litres, self.brewery)} of solution", left))
        self.working += loss.working

    def _cooling(self, *, caustic: bool) -> None:
        assert self.hot_c is not None
        hot_c, cold_c = min(self.hot_c, HOTTEST_C), self.brewery.supply_water_c
        span = f"{_degrees(hot_c, self.brewery)} to {_degrees(cold_c, self.brewery)}"
        self._vacuum(
            f"Cooled while closed, from {span}", temperature_c=hot_c, final_c=cold_c, share=0.0
        )
        if caustic:
            self._vacuum("Both together", temperature_c=hot_c, final_c=cold_c, share=self.share)

    def _vacuum(
        self,
        label: str,
        *,
        temperature_c: float,
        final_c: float,
        share: float,
        pressure_mbar: float = ATMOSPHERE_MBAR,
    ) -> None:
        found = closed_vessel_vacuum(
            temperature_c=temperature_c,
            final_temperature_c=final_c,
            co2_fraction=share,
            rating_mbar=self.vessel.vacuum_rating_mbar,
            pressure_abs_mbar=pressure_mbar,
        )
        self.over = self.over or (found.verdict != "within")
        self.vacuums.append((label, found.sentence))
        # Each vacuum's lines are told apart by what draws it.
        self.working += [
            dataclasses.replace(line, label=f"{label}: {line.label}") for line in found.working
        ]

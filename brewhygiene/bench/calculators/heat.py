"""Heat: to warm solution and steel, and lethality."""

import itertools
from typing import TYPE_CHECKING, Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Working, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.measures import SOLUTION, TEMPERATURE
from brewhygiene.quantities.parsing import show_number
from brewhygiene.regimes.cautions import HOT, HOT_COLD
from brewhygiene.regimes.models import ActiveSubstance
from brewhygiene.science.solutions.density import solution_density_kg_l, water_density_kg_l
from brewhygiene.science.tank.heat import STEEL_KJ_KG_K, heating, temperature_on_steel_c
from brewhygiene.science.working import WorkingLine, shown

if TYPE_CHECKING:
    from brewhygiene.science.tank.lethality import Reference

FITTED = ("NaOH", "KOH", "HNO3")
LIQUIDS = [("", "water"), *(choice for choice in ActiveSubstance.choices if choice[0] in FITTED)]
HEATS = (
    "Heat capacities: water by IAPWS-95, solutions by Laliberté (J. Chem. Eng. Data 54 (2009) "
    "1725). Stainless steel 0.5 kJ/(kg K), EN 10088-1, from memory."
)


class HeatedLiquid(Calculator):
    """A liquid with a heat capacity, and the steel that it warms."""

    method = (HEATS,)
    valid_for = ("Water 0 to 99 °C. NaOH to 30.3 %, KOH to 46.5 %, HNO3 to 6.5 % w/w, 5 to 99 °C.",)
    refusal_fields = (
        ("end temperature", ("end",)),
        ("temperature of the steel", ("steel_temperature",)),
        ("heater", ("heater",)),
        ("steel", ("steel",)),
        ("strength", ("strength",)),
        ("solution", ("volume",)),
        ("temperature", ("start", "end", "steel_temperature")),
    )

    substance = fields.choice("Liquid", LIQUIDS, initial="NaOH", required=False, wide=True)
    strength = fields.number("Strength of the liquid", unit="% w/w", high=100, initial=2,
                             hint="Not used for water.")  # fmt: skip
    volume = fields.solution("Volume, cold", initial=1000)
    start = fields.temperature("Start temperature", initial=15.0)
    steel = fields.number("Mass of steel", unit="kg", high=1e6, initial=0)
    steel_temperature = fields.temperature(
        "Temperature of the steel", initial=None, required=False,
        hint="Optional. If blank, that of the liquid.",
    )  # fmt: skip

    def mass(self, given: dict[str, Any]) -> tuple[float, WorkingLine]:
        """kg of the liquid at its start temperature, and their working."""
        if given["substance"]:
            density = solution_density_kg_l(
                solute=given["substance"],
                strength_ww=given["strength"],
                temperature_c=given["start"],
            )
        else:
            density = water_density_kg_l(temperature_c=given["start"])
        kilograms = given["volume"] * density
        return kilograms, WorkingLine(
            "mass", "V · ρ", f"{shown(given['volume'])} × {shown(density)}", kilograms, "kg"
        )

    @staticmethod
    def liquid(given: dict[str, Any]) -> dict[str, Any]:
        """The liquid, as the calculations take it."""
        return {
            "solute": given["substance"],
            "strength_ww": given["strength"] if given["substance"] else 0.0,
        }


class Heating(HeatedLiquid):
    """Energy and time to warm a solution with its steel."""

    slug = "heating"
    title = "Heating of a solution"
    about = "Heat and time to warm it with its steel"
    fieldsets = (
        ("Liquid", ("substance", "strength", "volume", "start", "end")),
        ("Steel", ("steel", "steel_temperature")),
        ("Heater", ("heater", "efficiency")),
    )

    end = fields.temperature("End temperature", initial=75.0)
    heater = fields.number("Heater power", unit="kW", high=1e6, required=False,
                           hint="Optional. Gives the time.")  # fmt: skip
    efficiency = fields.number("Heater efficiency", unit="%", low=1, high=100,
                               initial=100)  # fmt: skip

    def calculate(self, given: dict[str, Any]) -> Answer:
        kilograms, line = self.mass(given)
        warm = heating(
            solution_kg=kilograms,
            from_c=given["start"],
            to_c=given["end"],
            steel_kg=given["steel"],
            steel_from_c=given["steel_temperature"],
            heater_kw=given["heater"],
            efficiency=given["efficiency"] / 100,
            **self.liquid(given),
        )
        figures = [
            figure("heat", warm.energy_kwh, "kWh"),
            figure("heat into the liquid", warm.solution_kwh, "kWh"),
            figure("heat into the steel", warm.steel_kwh, "kWh"),
            figure("energy bought", warm.bought_kwh, "kWh"),
        ]
        if warm.minutes is not None:
            figures.insert(1, figure("time", warm.minutes, "min", significant=3))
        return Answer(
            figures=tuple(figures),
            working=(Working("Calculation", (line, *warm.working)),),
            warnings=(("Heat lost through the wall is not included, except in the heater "
                      "efficiency."),),
            cautions=(HOT, HOT_COLD),
        )  # fmt: skip


class ColdSteel(HeatedLiquid):
    """The temperature of a hot solution in a cold vessel."""

    slug = "cold-steel"
    title = "Hot solution in a cold vessel"
    about = "Temperature once the steel has warmed"
    fieldsets = (
        ("Liquid", ("substance", "strength", "volume", "start")),
        ("Steel", ("steel", "steel_temperature")),
    )

    volume = fields.solution("Volume, hot", initial=200)
    start = fields.temperature("Start temperature", initial=80.0)
    steel = fields.number("Mass of steel", unit="kg", high=1e6, initial=800)
    steel_temperature = fields.temperature("Temperature of the steel", initial=10.0)

    def calculate(self, given: dict[str, Any]) -> Answer:
        kilograms, line = self.mass(given)
        end_c = temperature_on_steel_c(
            solution_kg=kilograms,
            solution_c=given["start"],
            steel_kg=given["steel"],
            steel_c=given["steel_temperature"],
            **self.liquid(given),
        )
        fall = self.site.difference(given["start"] - end_c)
        return Answer(
            figures=(
                Figure("final temperature", *self.site.shown(end_c, TEMPERATURE)),
                Figure("temperature drop", *fall),
                Figure("volume of solution", *self.site.shown(given["volume"], SOLUTION),
                       note=f"{show_number(kilograms)} kg"),
            ),
            working=(
                Working(
                    "Calculation",
                    (
                        line,
                        WorkingLine(
                            "final temperature", "(m c T + m' c' T') / (m c + m' c')",
                            f"m {shown(kilograms)} kg at {shown(given['start'])} °C, m' "
                            f"{shown(given['steel'])} kg at {shown(given['steel_temperature'])} "
                            f"°C, c' {STEEL_KJ_KG_K} kJ/(kg K)", end_c, "°C",
                        ),
                    ),
                ),
            ),
            warnings=("Heat lost to the air is not included. The solution ends colder than this.",),
            cautions=(HOT, HOT_COLD),
        )  # fmt: skip


REFERENCES = [
    ("PU", "Pasteurisation units (60 °C, 1.393 per K)"),
    ("F0", "F0 (121.1 °C, z 10 K), minutes"),
    ("A0", "A0 (80 °C, z 10 K), seconds"),
    ("F", "Your own F, below"),
]
LETHALITY_METHOD = (
    (
        "L = ∫ 10^((T − T_ref) / z) dt. PU: Del Vecchio, Dayharsh and Baselt, Proc. ASBC (1951) "
        "45. F0 and A0 (ISO 15883-1): definitions from memory."
    ),
)


class Lethality(Calculator):
    """A reference to express lethality in."""

    method = LETHALITY_METHOD
    valid_for = (("−50 to 250 °C. Different references stand for different organisms. Never add "
             "their units."),)  # fmt: skip
    refusal_fields = (
        ("reference temperature", ("own_reference",)),
        ("z", ("own_z",)),
        ("time", ("minutes", "readings")),
        ("temperature", ("temperature", "readings")),
        ("", ("readings",)),
    )

    reference = fields.choice("Reference", REFERENCES, initial="PU", wide=True)
    own_reference = fields.temperature("Your own reference temperature", initial=None,
                                       required=False)  # fmt: skip
    own_z = fields.number("Your own z", unit="K", high=100, required=False)

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if given.get("reference") == "F":
            for name in ("own_reference", "own_z"):
                if name in given and given[name] is None:
                    self.add_error(name, "Enter the reference temperature and z of your own F.")
        return given

    @staticmethod
    def chosen_reference(given: dict[str, Any]) -> "Reference":
        """The reference that was chosen."""
        # NumPy comes with it: only a calculation with it waits for that.
        from brewhygiene.science.tank.lethality import A0, F0, PASTEURISATION, f_reference

        if given["reference"] == "F":
            return f_reference(reference_c=given["own_reference"], z_k=given["own_z"])
        return {"PU": PASTEURISATION, "F0": F0, "A0": A0}[given["reference"]]


REFERENCE = ("Reference", ("reference", "own_reference", "own_z"))


class SteadyTemperature(Lethality):
    """Lethality of a steady temperature."""

    slug = "lethality"
    title = "Lethality of a steady temperature"
    about = "PU, F0 or A0 of a time at one temperature"
    fieldsets = (("Temperature and time", ("temperature", "minutes")), REFERENCE)

    temperature = fields.temperature("Temperature at the coldest place", initial=65.0)
    minutes = fields.number("Time", unit="min", high=100_000, initial=10)

    def calculate(self, given: dict[str, Any]) -> Answer:
        from brewhygiene.science.tank.lethality import held, lethal_rate

        reference = self.chosen_reference(given)
        rate = lethal_rate(temperature_c=given["temperature"], reference=reference)
        value = held(
            minutes=given["minutes"], temperature_c=given["temperature"], reference=reference
        )
        time = given["minutes"] * 60 / reference.unit_s
        unit = "min" if reference.unit_s == 60 else "s"
        return Answer(
            figures=(
                figure(reference.name, value, reference.unit, significant=5),
                figure("lethal rate", rate, "times the reference"),
                Figure("reference temperature",
                       *self.site.shown(reference.reference_c, TEMPERATURE),
                       note=f"z {show_number(reference.z_k)} K"),
            ),
            working=(
                Working(
                    "Calculation",
                    (
                        WorkingLine("lethal rate", "10^((T − T_ref) / z)",
                                    f"10^(({shown(given['temperature'])} − "
                                    f"{shown(reference.reference_c)}) / {shown(reference.z_k)})",
                                    rate),
                        WorkingLine("lethality", f"rate × time in {unit}",
                                    f"{shown(rate)} × {shown(time)}", value, reference.unit),
                    ),
                ),
            ),
            cautions=(HOT, HOT_COLD),
        )  # fmt: skip


class LoggedTemperature(Lethality):
    """Lethality of a few temperatures over time, as pasted."""

    slug = "logged-temperature"
    title = "Lethality of logged temperatures"
    about = "PU, F0 or A0 of readings over time"
    fieldsets = (("Readings", ("readings", "times", "max_gap")), REFERENCE)

    former_names = {"trace": "readings"}

    readings = fields.LinesField(
        columns=("time", "temperature"),
        temperature_column=1,
        clock=True,
        label="Time and temperature",
        initial="0; 60\n5; 70\n10; 80\n20; 80\n25; 60",
        help_text="One reading a line, in order of time, e.g. 5; 70. Times are numbers, or clock "
        "times such as 7:05 or 7:05:30.",
        error_messages={"required": "Enter at least two readings."},
    )
    times = fields.choice("Unit of time", [("min", "minutes"), ("s", "seconds")], initial="min",
                          hint="Does not apply to clock times.")  # fmt: skip
    max_gap = fields.number("Longest gap to bridge", unit="min", low=0.01, high=1440,
                            initial=10,
                            hint="A longer gap counts as no lethality.")  # fmt: skip

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        rows = given.get("readings") or []
        for place, (earlier, later) in enumerate(itertools.pairwise(rows), start=2):
            if later[0] < earlier[0]:
                self.add_error(
                    "readings",
                    f"Reading {place} comes before the one above it. Sort the readings by time. "
                    "For readings past midnight, enter minutes, not clock times.",
                )
                break
        return given

    def _seconds(self, given: dict[str, Any]) -> list[float]:
        # A clock time was read as minutes, whatever the numbers are.
        by_clock = ":" in self.data["readings"]
        factor = 60.0 if by_clock or given["times"] == "min" else 1.0
        return [row[0] * factor for row in given["readings"]]

    def calculate(self, given: dict[str, Any]) -> Answer:
        import numpy as np  # only where there are readings to add up

        from brewhygiene.science.tank.lethality import lethality, segments

        reference = self.chosen_reference(given)
        seconds = np.array(self._seconds(given))
        temperatures = np.array([row[1] for row in given["readings"]])
        found = lethality(
            seconds=seconds,
            temperatures_c=temperatures,
            reference=reference,
            max_gap_s=given["max_gap"] * 60,
        )
        parts = segments(seconds, temperatures, reference)
        lines = [
            WorkingLine(
                f"{shown(start / 60)} to {shown(end / 60)} min", "Δt (r₂ − r₁) / ln(r₂ / r₁)",
                f"{shown((end - start) / 60)} min from {shown(cold)} to {shown(hot)} °C",
                float(part), reference.unit,
            )
            for start, end, cold, hot, part in zip(
                seconds, seconds[1:], temperatures, temperatures[1:], parts, strict=False
            )
            if end - start <= given["max_gap"] * 60
        ]  # fmt: skip
        lines.append(WorkingLine("total", "sum of the parts", f"{len(lines)} parts", found.value,
                                 reference.unit))  # fmt: skip
        return Answer(
            figures=(
                figure(reference.name, found.value, reference.unit, significant=5),
                figure("time counted", found.counted_s / 60, "min"),
                Figure("highest temperature", *self.site.shown(found.hottest_c, TEMPERATURE)),
                Figure("lowest temperature", *self.site.shown(found.coldest_c, TEMPERATURE)),
                Figure("readings", str(found.readings)),
            ),
            working=(Working("Calculation, from reading to reading", tuple(lines)),),
            warnings=(
                (
                    f"Not counted: {show_number(found.not_bridged_s / 60)} min in "
                    f"{found.gap_count} {'gap' if found.gap_count == 1 else 'gaps'} longer than "
                    f"{show_number(given['max_gap'])} min."
                ),
            )
            if found.gap_count
            else (),
            cautions=(HOT, HOT_COLD),
        )

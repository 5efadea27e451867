"""Heat: to warm solution and steel, and what heat kills."""

import itertools
from typing import TYPE_CHECKING, Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Sum, figure
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
    "1725); stainless steel 0.5 kJ/(kg K), EN 10088-1, from memory."
)


def _strength_field() -> Any:
    return fields.number("Its strength", unit="% w/w", high=100, initial=2,
                         hint="Not asked for with water.")  # fmt: skip


class _Warm(Calculator):
    """A liquid with a heat capacity."""

    method = (HEATS,)
    holds = ("Water 0 to 99 °C; NaOH to 30.3 %, KOH to 46.5 %, HNO3 to 6.5 % w/w, 5 to 99 °C.",)
    blame = (
        ("end temperature", ("end",)),
        ("temperature of the steel", ("steel_temperature",)),
        ("heater", ("heater",)),
        ("steel", ("steel",)),
        ("strength", ("strength",)),
        ("solution", ("volume",)),
        ("temperature", ("start", "end", "steel_temperature")),
    )

    def mass(self, given: dict[str, Any]) -> tuple[float, WorkingLine]:
        """kg of the liquid at its first temperature, and how they were found."""
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
        """Which liquid, as the sums take it."""
        return {
            "solute": given["substance"],
            "strength_ww": given["strength"] if given["substance"] else 0.0,
        }


class Heating(_Warm):
    """Energy and time to warm a solution with its steel."""

    slug = "heating"
    title = "Heat to warm a solution"
    question = "How much heat, and how long, to warm the solution?"
    parts = (
        ("The liquid", ("substance", "strength", "volume", "start", "end")),
        ("The steel it meets", ("steel", "steel_temperature")),
        ("The heater", ("heater", "efficiency")),
    )

    substance = fields.choice("Liquid", LIQUIDS, initial="NaOH", required=False, wide=True)
    strength = _strength_field()
    volume = fields.solution("Volume, cold", initial=1000)
    start = fields.temperature("From", initial=15.0)
    end = fields.temperature("To", initial=75.0)
    steel = fields.number("Steel warmed with it", unit="kg", high=1e6, initial=0)
    steel_temperature = fields.temperature("Temperature of the steel", initial=None,
                                           required=False,
                                           hint="Empty: as the liquid.")  # fmt: skip
    heater = fields.number("Heater", unit="kW", high=1e6, required=False)
    efficiency = fields.number("Share of its heat that gets there", unit="%", low=1, high=100,
                               initial=100)  # fmt: skip

    def work(self, given: dict[str, Any]) -> Answer:
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
            figure("of it in the liquid", warm.solution_kwh, "kWh"),
            figure("of it in the steel", warm.steel_kwh, "kWh"),
            figure("energy bought", warm.bought_kwh, "kWh"),
        ]
        if warm.minutes is not None:
            figures.insert(1, figure("time", warm.minutes, "min", significant=3))
        return Answer(
            figures=tuple(figures),
            working=(Sum("The sum", (line, *warm.working)),),
            warnings=(("What the wall loses while it is warm is not in it, except as the "
                      "heater's share says."),),
            cautions=(HOT, HOT_COLD),
        )  # fmt: skip


class ColdSteel(_Warm):
    """Where a hot solution ends on a cold vessel."""

    slug = "cold-steel"
    title = "Hot solution on cold steel"
    question = "How warm is the solution still, once the cold vessel has taken its share?"
    parts = (
        ("The liquid", ("substance", "strength", "volume", "start")),
        ("The steel it meets", ("steel", "steel_temperature")),
    )

    substance = fields.choice("Liquid", LIQUIDS, initial="NaOH", required=False, wide=True)
    strength = _strength_field()
    volume = fields.solution("Volume, hot", initial=200)
    start = fields.temperature("Its temperature", initial=80.0)
    steel = fields.number("Steel", unit="kg", high=1e6, initial=800)
    steel_temperature = fields.temperature("Temperature of the steel", initial=10.0)

    def work(self, given: dict[str, Any]) -> Answer:
        kilograms, line = self.mass(given)
        end_c = temperature_on_steel_c(
            solution_kg=kilograms,
            solution_c=given["start"],
            steel_kg=given["steel"],
            steel_c=given["steel_temperature"],
            **self.liquid(given),
        )
        fall = self.site.rise(given["start"] - end_c)
        return Answer(
            figures=(
                Figure("it ends at", *self.site.shown(end_c, TEMPERATURE)),
                Figure("it falls by", *fall),
                Figure("of", *self.site.shown(given["volume"], SOLUTION),
                       note=f"{show_number(kilograms)} kg"),
            ),
            working=(
                Sum(
                    "The sum",
                    (
                        line,
                        WorkingLine(
                            "where both end", "(m c T + m' c' T') / (m c + m' c')",
                            f"m {shown(kilograms)} kg at {shown(given['start'])} °C, m' "
                            f"{shown(given['steel'])} kg at {shown(given['steel_temperature'])} "
                            f"°C, c' {STEEL_KJ_KG_K} kJ/(kg K)", end_c, "°C",
                        ),
                    ),
                ),
            ),
            warnings=("Nothing is lost to the air in this sum: in the cellar it ends colder.",),
            cautions=(HOT, HOT_COLD),
        )  # fmt: skip


REFERENCES = [
    ("PU", "pasteurisation units (60 °C, 1.393 per K)"),
    ("F0", "F0 (121.1 °C, z 10 K), minutes"),
    ("A0", "A0 (80 °C, z 10 K), seconds"),
    ("F", "F of your own, below"),
]
LETHALITY_METHOD = (
    (
        "L = ∫ 10^((T − T_ref) / z) dt. PU: Del Vecchio, Dayharsh and Baselt, Proc. ASBC (1951) "
        "45; F0 and A0 (ISO 15883-1): definitions from memory."
    ),
)


class _Lethal(Calculator):
    """A reference to count heat by."""

    method = LETHALITY_METHOD
    holds = (("−50 to 250 °C. Units of different references answer for different organisms: "
             "never add them."),)  # fmt: skip
    blame = (
        ("reference temperature", ("own_reference",)),
        ("z", ("own_z",)),
        ("time", ("minutes", "trace")),
        ("temperature", ("temperature", "trace")),
        ("", ("trace",)),
    )

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if given.get("reference") == "F":
            for name in ("own_reference", "own_z"):
                if name in given and given[name] is None:
                    self.add_error(name, "F of your own needs its temperature and its z.")
        return given

    @staticmethod
    def counted_by(given: dict[str, Any]) -> "Reference":
        """The reference that was chosen."""
        # NumPy comes with it: only a sum of it waits for that.
        from brewhygiene.science.tank.lethality import A0, F0, PASTEURISATION, f_reference

        if given["reference"] == "F":
            return f_reference(reference_c=given["own_reference"], z_k=given["own_z"])
        return {"PU": PASTEURISATION, "F0": F0, "A0": A0}[given["reference"]]


def _reference_fields() -> tuple[Any, Any, Any]:
    return (
        fields.choice("Counted by", REFERENCES, initial="PU", wide=True),
        fields.temperature("Reference temperature of your own", initial=None, required=False),
        fields.number("z of your own", unit="K", high=100, required=False),
    )


_BY = ("Counted by", ("reference", "own_reference", "own_z"))


class Held(_Lethal):
    """Lethality of a steady temperature."""

    slug = "lethality"
    title = "Lethality of a steady temperature"
    question = "How many PU (or F0, A0) is so long at one temperature?"
    parts = (("Held", ("temperature", "minutes")), _BY)

    temperature = fields.temperature("Temperature, at the coldest place", initial=65.0)
    minutes = fields.number("Time", unit="min", high=100_000, initial=10)
    reference, own_reference, own_z = _reference_fields()

    def work(self, given: dict[str, Any]) -> Answer:
        from brewhygiene.science.tank.lethality import held, lethal_rate

        reference = self.counted_by(given)
        rate = lethal_rate(temperature_c=given["temperature"], reference=reference)
        value = held(
            minutes=given["minutes"], temperature_c=given["temperature"], reference=reference
        )
        time = given["minutes"] * 60 / reference.unit_s
        unit = "min" if reference.unit_s == 60 else "s"
        return Answer(
            figures=(
                figure(reference.name, value, reference.unit, significant=5),
                figure("rate", rate, "times the reference"),
                Figure("reference", *self.site.shown(reference.reference_c, TEMPERATURE),
                       note=f"z {show_number(reference.z_k)} K"),
            ),
            working=(
                Sum(
                    "The sum",
                    (
                        WorkingLine("rate", "10^((T − T_ref) / z)",
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


class Trace(_Lethal):
    """Lethality of a small pasted trace."""

    slug = "lethality-trace"
    title = "Lethality of a trace"
    question = "How many PU (or F0, A0) has this run of temperatures?"
    parts = (("The trace", ("trace", "times", "max_gap")), _BY)

    trace = fields.LinesField(
        columns=("time", "temperature"),
        temperature_column=1,
        clock=True,
        label="Time and temperature",
        initial="0; 60\n5; 70\n10; 80\n20; 80\n25; 60",
        help_text="A line a reading, in order, with a space or a semicolon between. Times as "
        "numbers, or as clock times 7:05 or 7:05:30.",
        error_messages={"required": "Paste at least two readings."},
    )
    times = fields.choice("Numbers are", [("min", "minutes"), ("s", "seconds")], initial="min",
                          hint="Clock times are read as such.")  # fmt: skip
    max_gap = fields.number("Longest gap to bridge", unit="min", low=0.01, high=1440,
                            initial=10,
                            hint="Nobody knows what happened in a longer one: it counts "
                            "nothing.")  # fmt: skip
    reference, own_reference, own_z = _reference_fields()

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        rows = given.get("trace") or []
        for place, (earlier, later) in enumerate(itertools.pairwise(rows), start=2):
            if later[0] < earlier[0]:
                self.add_error(
                    "trace",
                    f"Reading {place} comes before the one above it: put them in order. A trace "
                    "over midnight needs minutes, not clock times.",
                )
                break
        return given

    def _seconds(self, given: dict[str, Any]) -> list[float]:
        # A clock time was read as minutes, whatever the numbers are.
        by_clock = ":" in self.data["trace"]
        factor = 60.0 if by_clock or given["times"] == "min" else 1.0
        return [row[0] * factor for row in given["trace"]]

    def work(self, given: dict[str, Any]) -> Answer:
        import numpy as np  # only where there is a trace to add up

        from brewhygiene.science.tank.lethality import lethality, segments

        reference = self.counted_by(given)
        seconds = np.array(self._seconds(given))
        temperatures = np.array([row[1] for row in given["trace"]])
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
        lines.append(WorkingLine("together", "sum of the parts", f"{len(lines)} parts", found.value,
                                 reference.unit))  # fmt: skip
        return Answer(
            figures=(
                figure(reference.name, found.value, reference.unit, significant=5),
                figure("time counted", found.counted_s / 60, "min"),
                Figure("hottest", *self.site.shown(found.hottest_c, TEMPERATURE)),
                Figure("coldest", *self.site.shown(found.coldest_c, TEMPERATURE)),
                Figure("readings", str(found.readings)),
            ),
            working=(Sum("The sum, from reading to reading", tuple(lines)),),
            warnings=(
                (
                    f"{show_number(found.not_bridged_s / 60)} min lie in {found.gap_count} "
                    f"{'gap' if found.gap_count == 1 else 'gaps'} longer than "
                    f"{show_number(given['max_gap'])} min and count nothing."
                ),
            )
            if found.gap_count
            else (),
            cautions=(HOT, HOT_COLD),
        )

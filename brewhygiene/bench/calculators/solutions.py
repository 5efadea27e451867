"""Making solutions: strength in other units, and making up from a concentrate."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import (
    INTO_WATER,
    Answer,
    Figure,
    Working,
    cautions_of,
    figure,
)
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.measures import SOLUTION
from brewhygiene.quantities.parsing import show_number
from brewhygiene.regimes.models import ActiveSubstance, Agent, Basis
from brewhygiene.science.solutions.batch import Batch, Concentrate
from brewhygiene.science.solutions.density import SOLUTES
from brewhygiene.science.solutions.makeup import make_up_into_water, make_up_to_volume
from brewhygiene.science.solutions.strength import convert_strength
from brewhygiene.science.solutions.strengths import (
    BASIS_UNIT,
    caustic_lost_to_water_kg,
    solution_strengths,
)
from brewhygiene.science.working import WorkingLine, shown

DENSITIES = (
    "Densities by Laliberté's model (J. Chem. Eng. Data 54 (2009) 1725), for caustic checked "
    "against the table of Perry's Chemical Engineers' Handbook, 6th ed."
)
BY_MASS = "A mass balance, because volumes do not add up."
RANGES = (
    "NaOH to 50 % w/w and 0 to 100 °C, KOH to 51.8 % and 4 to 95 °C, HNO3 to 70.1 % and 0 to "
    "95 °C, H3PO4 to 85 % and 16 to 81 °C."
)
DILUTE = (
    "Peracetic acid, peroxide, chlorine, iodine, quats and blends have no density table. Their "
    "solutions are taken as water, up to 0.5 % w/w."
)
DENSITY_ERROR = "Density errors are below 0.7 %."

SUBSTANCES = ActiveSubstance.choices
DISSOLVED = [*((key, label) for key, label in SUBSTANCES if key in SOLUTES)]
WITH_SODA = [*DISSOLVED, ("Na2CO3", "sodium carbonate, Na2CO3")]
BASES = Basis.choices
AGENT = "Optional. Fills in the substance, and the concentrate's strength and density."


def agent_field(hint: str = AGENT) -> Any:
    """One of the brewery's agents, which fills in the fields below it."""
    return fields.choice("Agent", [], required=False, hint=hint, wide=True)


class Strength(Calculator):
    """A strength on every basis."""

    slug = "strength"
    title = "Strength in other units"
    about = "% w/w, % w/v, g/L, mol/L and normality"
    fieldsets = (("Solution", ("substance", "value", "basis", "temperature", "equivalents")),)
    method = (DENSITIES, "Molar masses from IUPAC's atomic weights.")
    valid_for = (RANGES, "Na2CO3 to 20.9 % w/w and 0 to 100 °C.", DENSITY_ERROR)
    refusal_fields = (
        ("equivalent", ("equivalents",)),
        ("normality", ("equivalents",)),
        ("strength", ("value",)),
        ("temperature", ("temperature",)),
    )

    substance = fields.choice("Substance", WITH_SODA, initial="NaOH", wide=True)
    value = fields.number("Strength", high=2e6, initial=2)
    basis = fields.choice("Unit of the strength", BASIS_UNIT.items(), initial="ww")
    temperature = fields.temperature(
        "Temperature of the solution", hint="A litre weighs less when it is warm."
    )
    equivalents = fields.choice(
        "Equivalents per mole",
        [
            ("", "All of the substance"),
            ("1", "1 (H3PO4 to pH 4.5, Na2CO3 to pH 8.3)"),
            ("2", "2 (H3PO4 to pH 9.5, Na2CO3 to pH 4.5)"),
        ],
        required=False,
        hint="Only for a normality of H3PO4 or Na2CO3, which depends on the end point.",
        wide=True,
    )

    def calculate(self, given: dict[str, Any]) -> Answer:
        found = solution_strengths(
            solute=given["substance"],
            value=given["value"],
            basis=given["basis"],
            temperature_c=given["temperature"],
            equivalents=int(given["equivalents"]) if given["equivalents"] else None,
        )
        amounts = {
            "ww": ("strength by weight", found.strength_ww),
            "wv": ("strength by volume", found.strength_wv),
            "g_l": ("grams per litre", found.g_l),
            "mol_l": ("moles per litre", found.mol_l),
            "eq_l": ("normality", found.eq_l),
            "mol_kg": ("molality, per kg of water", found.mol_kg),
        }
        first = "wv" if given["basis"] == "ww" else "ww"
        order = sorted(amounts, key=lambda basis: basis != first)
        figures = [figure(amounts[basis][0], amounts[basis][1], BASIS_UNIT[basis])
                   for basis in order]  # fmt: skip
        figures.append(figure("density", found.density_kg_l, "kg/L", significant=5))
        lines = found.working
        if given["basis"] != "ww":
            lines = (_by_weight(given["value"], BASIS_UNIT[given["basis"]], found.strength_ww),
                     *lines)  # fmt: skip
        return Answer(figures=tuple(figures), working=(Working("Calculation", lines),))


def _by_weight(value: float, unit: str, strength_ww: float) -> WorkingLine:
    return WorkingLine(
        "strength by weight", "given ÷ density, solved by iteration", f"{shown(value)} {unit}",
        strength_ww, "% w/w",
    )  # fmt: skip


CONCENTRATE = ("Concentrate", ("agent", "substance", "concentrate_ww", "density_kg_l"))


class WithConcentrate(Calculator):
    """Fields and figures of every calculator that adds a concentrate to reach a strength."""

    method = (BY_MASS, DENSITIES)
    valid_for = (RANGES, DILUTE, DENSITY_ERROR)
    # In the words of the refusals, the more particular first.
    refusal_fields = (
        ("density of the concentrate", ("density_kg_l",)),
        ("enter the density", ("density_kg_l",)),
        ("needs the product's", ("density_kg_l",)),
        ("a concentrate of", ("concentrate_ww",)),
        ("strength of the concentrate", ("concentrate_ww",)),
        ("does not fit", ("capacity", "volume")),
        ("the tank contains at most", ("capacity", "present")),
        ("too full", ("present", "volume")),
        ("already contains", ("present_strength", "present")),
        ("strength in the tank", ("present_strength",)),
        ("density table", ("basis",)),
        ("strength", ("target", "concentrate_ww", "present_strength")),
        ("temperature of water", ("water_temperature", "temperature")),
        ("temperature", ("temperature", "water_temperature")),
        ("alkalinity", ("alkalinity",)),
        ("volume in the tank", ("present",)),
        ("volume", ("volume",)),
        ("water", ("water",)),
    )

    agent = agent_field()
    substance = fields.choice("Substance", SUBSTANCES, initial="NaOH", wide=True)
    concentrate_ww = fields.number("Strength of the concentrate", unit="% w/w", high=100,
                                   initial=50, hint="See its label or data sheet.")  # fmt: skip
    density_kg_l = fields.number(
        "Density of the concentrate", unit="kg/L", high=3, required=False,
        hint="Optional. If blank, from the density table. See its data sheet.",
    )  # fmt: skip
    target = fields.number("Target strength", high=1e6, initial=2)
    basis = fields.choice("Unit of strength", BASES, initial="ww")
    temperature = fields.temperature("Temperature of the solution")
    water_temperature = fields.temperature(
        "Temperature of the water", initial=None, required=False,
        hint="Optional. If blank, that of the solution.",
    )  # fmt: skip

    def from_agent(self, agent: Agent, *, field: str) -> dict[str, Any]:
        return {
            "substance": agent.active_substance,
            "concentrate_ww": agent.concentrate_strength_ww,
            "density_kg_l": agent.concentrate_density_kg_l,
        }

    def concentrate(self, given: dict[str, Any]) -> Concentrate:
        """The concentrate as given."""
        return Concentrate(
            given["substance"], given["concentrate_ww"], density_kg_l=given["density_kg_l"]
        )

    def by_weight(self, given: dict[str, Any], name: str, basis: str) -> float:
        """A strength of the solution in % w/w, whatever it was given in."""
        if given[basis] == Basis.WW:
            value: float = given[name]
            return value
        by_volume = given[basis] == Basis.VV
        return convert_strength(
            value=given[name],
            basis=given[basis],
            to_basis="ww",
            substance=given["substance"],
            product_strength_ww=given["concentrate_ww"] if by_volume else None,
            product_density_kg_l=self.concentrate(given).kg_l() if by_volume else None,
        )

    def lines_by_weight(
        self, given: dict[str, Any], *strengths: tuple[str, str, str, float]
    ) -> tuple[WorkingLine, ...]:
        """How each strength (its label, field, basis field, % w/w) became one by weight."""
        return tuple(
            WorkingLine(
                f"{label}, by weight", "given ÷ density, solved by iteration",
                f"{shown(given[name])} {Basis(given[basis]).label}", strength_ww, "% w/w",
            )
            for label, name, basis, strength_ww in strengths
            if given[basis] != Basis.WW
        )  # fmt: skip

    def amount(self, label: str, litres: float, kilograms: float) -> Figure:
        """A volume of the batch in the site's unit, with its kg."""
        value, unit = self.site.shown(litres, SOLUTION)
        note = f"{show_number(kilograms)} kg"
        if kilograms < 1:
            note = f"{show_number(kilograms * 1000)} g"
        if self.site.differs(SOLUTION) and litres < 1:
            note += f", {show_number(litres * 1000)} mL"
        return Figure(label, value, unit, note=note)

    def batch_answer(
        self, batch: Batch, *, figures: tuple[Figure, ...], first: tuple[WorkingLine, ...],
        sentences: tuple[str, ...] = (), warnings: tuple[str, ...] = (),
    ) -> Answer:  # fmt: skip
        """A batch's own figures, and those that every batch has."""
        rest = [
            *figures,
            self.amount("finished solution", batch.solution_l, batch.solution_kg),
            figure("strength", batch.target_ww, "% w/w"),
        ]
        if batch.rise_at_most_k and batch.concentrate_kg > 0:
            value, unit = self.site.difference(batch.rise_at_most_k)
            rest.append(
                Figure("maximum temperature rise", value, unit, note="usually about half of it")
            )
        substance = batch.solute
        cautions = cautions_of(substance) if batch.concentrate_kg > 0 else ()
        alkali_or_acid = substance in SOLUTES or substance == ActiveSubstance.HNO3_H3PO4
        rule = ""
        if batch.concentrate_kg > 0:
            rule = batch.order if alkali_or_acid else INTO_WATER
        return Answer(
            figures=tuple(rest),
            working=(Working("Calculation", (*first, *batch.working)),),
            sentences=sentences,
            warnings=warnings,
            cautions=cautions,
            rule=rule,
        )


class MakeUp(WithConcentrate):
    """Concentrate and water for a finished volume."""

    slug = "make-up"
    title = "Solution of a set volume"
    about = "Concentrate and water for a finished volume"
    fieldsets = (
        CONCENTRATE,
        ("Solution", ("target", "basis", "volume", "temperature")),
        ("Water", ("water_temperature", "alkalinity")),
    )
    optional = frozenset({"Water"})

    volume = fields.solution("Finished volume", initial=1000)
    alkalinity = fields.number(
        "Alkalinity of the water", unit="mg/L as CaCO3", high=2000, required=False,
        hint="Optional, for caustic. Hydrogen carbonate in the water uses up NaOH.",
    )  # fmt: skip

    def calculate(self, given: dict[str, Any]) -> Answer:
        target_ww = self.by_weight(given, "target", "basis")
        batch = make_up_to_volume(
            concentrate=self.concentrate(given),
            target_ww=target_ww,
            volume_l=given["volume"],
            temperature_c=given["temperature"],
            water_temperature_c=given["water_temperature"],
        )
        figures = [
            self.amount("concentrate", batch.concentrate_l, batch.concentrate_kg),
            self.amount("water", batch.water_l, batch.water_kg),
        ]
        warnings = []
        if given["alkalinity"] is not None and given["substance"] == "NaOH":
            lost_kg = caustic_lost_to_water_kg(
                alkalinity_mg_l_caco3=given["alkalinity"], water_l=batch.water_l
            )
            figures.append(figure("NaOH used up by the water", lost_kg, "kg"))
            warnings.append(
                f"The water turns {show_number(lost_kg)} kg of NaOH, "
                f"{show_number(100 * lost_kg / batch.active_kg, significant=2)} % of it, to "
                "carbonate. The amounts above do not make up for it."
            )
        return self.batch_answer(
            batch,
            figures=tuple(figures),
            first=self.lines_by_weight(given, ("target strength", "target", "basis", target_ww)),
            warnings=tuple(warnings),
        )


class IntoWater(WithConcentrate):
    """Concentrate for a volume of water that is there."""

    slug = "into-water"
    title = "Solution from a volume of water"
    about = "Concentrate for the water in the tank"
    fieldsets = (
        CONCENTRATE,
        ("Solution", ("target", "basis", "temperature")),
        ("Water", ("water", "water_temperature")),
    )

    water = fields.solution("Water in the tank", initial=1000)

    def calculate(self, given: dict[str, Any]) -> Answer:
        target_ww = self.by_weight(given, "target", "basis")
        batch = make_up_into_water(
            concentrate=self.concentrate(given),
            target_ww=target_ww,
            water_l=given["water"],
            temperature_c=given["temperature"],
            water_temperature_c=given["water_temperature"],
        )
        return self.batch_answer(
            batch,
            figures=(self.amount("concentrate", batch.concentrate_l, batch.concentrate_kg),),
            first=self.lines_by_weight(given, ("target strength", "target", "basis", target_ww)),
        )

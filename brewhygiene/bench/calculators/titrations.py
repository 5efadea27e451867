"""Titrations of caustic and acid, by one end point and by two."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Table, Working, cautions_of, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.solutions import DENSITIES, agent_field
from brewhygiene.quantities.words import percent
from brewhygiene.regimes.models import ActiveSubstance, Agent
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.density import SOLUTES
from brewhygiene.science.solutions.strength import EQUIVALENT_WEIGHT_G, ww_from_wv
from brewhygiene.science.solutions.titration import Found, TitrationSetup, Tolerances, one_end_point
from brewhygiene.science.solutions.two_end_points import mixed_acid, used_caustic

STOICHIOMETRY = "Stoichiometry, with IUPAC's atomic weights."
UNCERTAINTY = (
    "± is the expanded uncertainty, k = 2: about 95 of 100 results lie within it (law of "
    "propagation, JCGM 100:2008)."
)
GLASSWARE = (
    "The tolerances are common practice, no source. The drop size of ± 10 % is that of the "
    "droppers of USP ⟨1101⟩. Enter your own where you know them."
)
IN_ML_OR_DROPS = "In mL or drops, as chosen under Procedure."
PER = {"wv": ("g/L", "mg/L"), "ww": ("g/kg", "mg/kg")}


def titrant_field(initial: float, label: str = "Titrant strength") -> Any:
    """Strength on the label."""
    return fields.number(label, unit="eq/L (N)", high=20, initial=initial)


def factor_field(label: str = "Titrant factor") -> Any:
    """From standardising the titrant."""
    hint = "From standardisation. If not standardised, 1."
    return fields.number(label, high=10, initial=1, hint=hint)


def blank_field(label: str = "Blank") -> Any:
    """A reading without sample."""
    hint = "The same titration without sample, in mL or drops."
    return fields.number(label, high=1000, initial=0, hint=hint)


def sample_field(initial: float) -> Any:
    """How much was titrated."""
    return fields.number("Sample", high=10_000, initial=initial)


def sample_unit_field(initial: str = "mL") -> Any:
    """By volume or by weight."""
    return fields.choice("Sample measured in", [("mL", "mL"), ("g", "g")], initial=initial,
                         hint="mL gives % w/v, g gives % w/w.")  # fmt: skip


def _percent_tolerance(label: str, initial: float) -> Any:
    return fields.number(label, unit="%", high=50, initial=initial)


PROCEDURE = ("Procedure", ("titrant", "factor", "sample", "sample_unit", "dilution", "counted",
             "drops_per_ml", "blank"))  # fmt: skip
TOLERANCES = ("Tolerances",
              ("burette_ml", "drop_percent", "sample_percent", "titrant_percent"))  # fmt: skip


class Titration(Calculator):
    """Fields and figures that every titration has."""

    optional = frozenset({"Tolerances"})
    refusal_fields = (
        ("titrant's strength", ("titrant", "peracid_titrant")),
        ("titrant's factor", ("factor", "peracid_factor")),
        ("dilution", ("dilution",)),
        ("drops in a ml", ("drops_per_ml",)),
        ("sample", ("sample",)),
        ("equivalent weight", ("equivalent_weight",)),
        ("second", ("second_reading",)),
        ("from the first end point to", ("second_reading",)),
        ("below the blank", ("first_reading", "reading", "peroxide_reading")),
        ("blank", ("blank", "peracid_blank")),
        ("reading", ("reading", "first_reading", "peroxide_reading")),
    )

    titrant = titrant_field(0.5)
    factor = factor_field()
    sample = sample_field(10)
    sample_unit = sample_unit_field()
    dilution = fields.number("Sample dilution", unit="times", high=100_000, initial=1,
                             hint="1 for undiluted. 10 for one part made up to ten.")  # fmt: skip
    counted = fields.choice("Titrant counted in", [("mL", "mL of a burette"), ("drops", "drops")],
                            initial="mL")  # fmt: skip
    drops_per_ml = fields.number("Drops per mL", high=200, initial=20,
                                 hint="Only where drops are counted.")  # fmt: skip
    blank = blank_field()
    burette_ml = fields.number("Burette tolerance ±", unit="mL", high=5, initial=0.05)
    drop_percent = _percent_tolerance("Drop size tolerance ±", 10)
    sample_percent = _percent_tolerance("Sample tolerance ±", 0.5)
    titrant_percent = _percent_tolerance("Titrant tolerance ±", 0.5)

    def setup(self, given: dict[str, Any], prefix: str = "") -> TitrationSetup:
        """What it was done with; ``prefix`` chooses among several titrants."""
        in_ml = given["sample_unit"] == "mL"
        return TitrationSetup(
            titrant_eq_l=given[f"{prefix}titrant"],
            sample_ml=given["sample"] if in_ml else None,
            sample_g=None if in_ml else given["sample"],
            titrant_factor=given[f"{prefix}factor"],
            blank=given[f"{prefix}blank"],
            dilution=given["dilution"],
            drops_per_ml=given["drops_per_ml"] if given["counted"] == "drops" else None,
            tolerances=Tolerances(
                burette_ml=given["burette_ml"],
                drop_size_percent=given["drop_percent"],
                sample_percent=given["sample_percent"],
                titrant_percent=given["titrant_percent"],
            ),
        )


class TwoEndPoints(Titration):
    """A titration read at two end points."""

    first_reading = fields.number("Reading to pH 4.5", high=1000, initial=8, hint=IN_ML_OR_DROPS)
    second_reading = fields.number("Reading to pH 9.5", high=1000, initial=11)
    second_from = fields.choice(
        "Second reading counted from",
        [("start", "the start of the titration"), ("first_end_point", "the first end point")],
        initial="start",
        wide=True,
    )

    def readings(self, given: dict[str, Any]) -> dict[str, Any]:
        """Both readings and what they were made with, as the calculations take them."""
        names = ("first_reading", "second_reading", "second_from")
        return {"setup": self.setup(given)} | {name: given[name] for name in names}


def result_figure(label: str, found: Found, *, milligrams: bool = False) -> Figure:
    """A result with its uncertainty, in % or in mg/L (mg/kg)."""
    if milligrams:
        return figure(label, found.milligrams_per_l_or_kg, PER[found.basis][1],
                      uncertainty=found.uncertainty.expanded * 10_000)  # fmt: skip
    return figure(label, found.percent, found.percent_unit, uncertainty=found.uncertainty.expanded)


def grams_figure(name: str, found: Found) -> Figure:
    """The same in g/L or g/kg."""
    unit = PER[found.basis][0]
    return figure(
        f"{name} in {unit}", found.grams_per_l_or_kg, unit,
        uncertainty=found.uncertainty.expanded * 10,
    )  # fmt: skip


def shares_table(*found: Found) -> Table:
    """Where the uncertainty comes from."""
    names = list(dict.fromkeys(name for one in found for name, _ in one.uncertainty.shares_percent))
    rows = []
    for name in names:
        shares = (dict(one.uncertainty.shares_percent).get(name, 0.0) for one in found)
        rows.append((name, *(percent(share / 100) for share in shares)))
    head = ("Input", *(f"Share, {one.substance}" for one in found))
    return Table("Sources of the uncertainty", head, tuple(rows))


def by_weight(found: Found) -> tuple[Figure, ...]:
    """A strength in % w/v as % w/w at 20 °C, where the density is known."""
    if found.basis != "wv" or found.substance not in SOLUTES:
        return ()
    try:
        ww = ww_from_wv(substance=found.substance, strength_wv=found.percent)
    except OutOfRange:
        return ()
    # The density hardly moves within the uncertainty: the same share of the result.
    share = found.uncertainty.expanded / found.percent if found.percent else 0.0
    return (figure("strength by weight, at 20 °C", ww, "% w/w", uncertainty=ww * share),)


class OneEndPoint(Titration):
    """Caustic or acid by one end point."""

    slug = "titration"
    title = "Titration, one end point"
    about = "Strength of caustic or acid"
    fieldsets = (
        ("Titration", ("agent", "substance", "equivalent_weight", "reading")),
        PROCEDURE,
        TOLERANCES,
    )
    method = (STOICHIOMETRY, UNCERTAINTY, GLASSWARE, DENSITIES)
    valid_for = (
        (
            "H3PO4 counts one equivalent, to methyl orange (pH 4.5). For pH 9.5 enter 49 g as its "
            "equivalent weight."
        ),
        "Used caustic also contains carbonate. Titrate it to two end points.",
    )

    agent = agent_field("Fills in the substance, and the equivalent weight of a blend.")
    substance = fields.choice(
        "Substance",
        [
            choice
            for choice in ActiveSubstance.choices
            if choice[0] in (*SOLUTES, ActiveSubstance.HNO3_H3PO4)
        ],
        initial="NaOH",
        wide=True,
    )
    equivalent_weight = fields.number(
        "Equivalent weight", unit="g/eq", high=1000, required=False,
        hint="Optional. If blank, that of the substance. For a blend, see its label.",
    )  # fmt: skip
    reading = fields.number("Titrant used", high=1000, initial=10.2, hint=IN_ML_OR_DROPS)

    def from_agent(self, agent: Agent, *, field: str) -> dict[str, Any]:
        return {
            "substance": agent.active_substance,
            "equivalent_weight": agent.equivalent_weight_g,
        }

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        substance = given.get("substance")
        blend = substance and substance not in EQUIVALENT_WEIGHT_G
        if blend and given.get("equivalent_weight", 1.0) is None:
            self.add_error(
                "equivalent_weight", "Enter the equivalent weight of the blend. See its label."
            )
        return given

    def calculate(self, given: dict[str, Any]) -> Answer:
        titrated = one_end_point(
            setup=self.setup(given),
            substance=given["substance"],
            reading=given["reading"],
            equivalent_weight_g=given["equivalent_weight"],
        )
        found = titrated.found
        per = "kg" if found.basis == "ww" else "L"
        return Answer(
            figures=(
                result_figure("strength", found),
                *by_weight(found),
                grams_figure("strength", found),
                figure("equivalents", titrated.eq_per_l_or_kg, f"eq/{per}"),
            ),
            working=(Working("Calculation", titrated.working),),
            tables=(shares_table(found),),
            cautions=cautions_of(given["substance"]),
        )


class UsedCaustic(TwoEndPoints):
    """Free caustic and carbonate by two end points."""

    slug = "used-caustic"
    title = "Used caustic, two end points"
    about = "Free caustic and carbonate"
    fieldsets = (
        ("Titration", ("substance", "first_reading", "second_reading", "second_from")),
        PROCEDURE,
        TOLERANCES,
    )
    method = (
        (
            "Warder's method: phenolphthalein (pH 8.3), then methyl orange (pH 4.5), with a strong "
            "acid. The five cases are those of Standard Methods 2320 B, table 2320:II."
        ),
        UNCERTAINTY,
        GLASSWARE,
    )
    valid_for = ("Alkalinity from hydroxide, carbonate and bicarbonate only.",)

    substance = fields.choice("Alkali", ActiveSubstance.choices[:2], initial="NaOH", wide=True)
    first_reading = fields.number("Reading to phenolphthalein (P)", high=1000, initial=10,
                                  hint=IN_ML_OR_DROPS)  # fmt: skip
    second_reading = fields.number("Reading to methyl orange", high=1000, initial=11.5)

    def calculate(self, given: dict[str, Any]) -> Answer:
        used = used_caustic(alkali=given["substance"], **self.readings(given))
        parts = (used.hydroxide, used.carbonate, used.bicarbonate)
        there = [one for one in parts if one.percent]
        unit = PER[used.hydroxide.basis][1]
        return Answer(
            figures=(
                result_figure(f"free {used.hydroxide.substance}", used.hydroxide),
                *(result_figure(one.substance, one) for one in parts[1:]),
                figure("alkalinity as carbonate", used.carbonate_share_percent,
                       "% of the alkalinity", significant=3),
                figure("total alkalinity", used.total_alkalinity_mg_l_caco3, f"{unit} as CaCO3"),
            ),
            sentences=((f"The case is {used.case}. P is the reading to the first end point, T "
                       "from the start to the second."),),
            working=(Working("Calculation", used.working),),
            tables=(shares_table(*there),) if there else (),
            warnings=used.notes,
            cautions=cautions_of(given["substance"]),
        )  # fmt: skip


class MixedAcid(TwoEndPoints):
    """Nitric and phosphoric acid by two end points."""

    slug = "mixed-acid"
    title = "Mixed acid, two end points"
    about = "Nitric and phosphoric acid in a bath"
    fieldsets = (
        ("Titration", ("first_reading", "second_reading", "second_from")),
        PROCEDURE,
        TOLERANCES,
    )
    method = (
        "Methyl orange (pH 4.5), then pH 9.5, with a strong base. Between the two only phosphoric "
        "acid gives a hydrogen. " + STOICHIOMETRY,
        UNCERTAINTY,
        GLASSWARE,
    )
    valid_for = ("Carbonate in the base and metals in the bath count as phosphoric acid.",)

    def calculate(self, given: dict[str, Any]) -> Answer:
        acid = mixed_acid(**self.readings(given))
        return Answer(
            figures=(
                result_figure("nitric acid, HNO3", acid.nitric),
                result_figure("phosphoric acid, H3PO4", acid.phosphoric),
                grams_figure("nitric acid", acid.nitric),
                grams_figure("phosphoric acid", acid.phosphoric),
            ),
            working=(Working("Calculation", acid.working),),
            tables=(shares_table(acid.nitric, acid.phosphoric),),
            cautions=cautions_of("HNO3"),
        )

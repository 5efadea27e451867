"""Titrations of caustic and acid, by one end point and by two."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Sum, Table, cautions_of, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.solutions import DENSITIES, agent_field
from brewhygiene.regimes.models import ActiveSubstance, Agent
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.density import SOLUTES
from brewhygiene.science.solutions.strength import EQUIVALENT_WEIGHT_G, ww_from_wv
from brewhygiene.science.solutions.titration import Found, TitrationSetup, Tolerances, one_end_point
from brewhygiene.science.solutions.two_end_points import mixed_acid, used_caustic

STOICHIOMETRY = "Stoichiometry, with IUPAC's atomic weights."
UNCERTAINTY = (
    "± is the expanded uncertainty, k = 2: about 95 of 100 results lie that near (law of "
    "propagation, JCGM 100:2008)."
)
GLASSWARE = (
    "What the glassware is good to is common practice, no source; a drop's size ± 10 % is that "
    "of the droppers of USP ⟨1101⟩. Put in your own."
)
SECOND_FROM = [
    ("start", "the start of the titration"),
    ("first_end_point", "the first end point on"),
]
_PER = {"wv": ("g/L", "mg/L"), "ww": ("g/kg", "mg/kg")}


def tolerance_fields() -> tuple[Any, ...]:
    """What the glassware is good to."""
    return (
        fields.number("A reading in mL is good to ±", unit="mL", high=5, initial=0.05),
        fields.number("A drop is of a size good to ±", unit="%", high=50, initial=10),
        fields.number("The sample is good to ±", unit="%", high=50, initial=0.5),
        fields.number("The titrant is good to ±", unit="%", high=50, initial=0.5),
    )


def sample_field() -> Any:
    """How much was titrated."""
    return fields.number("Sample", high=10_000, initial=10)


def sample_unit_field() -> Any:
    """By volume or by weight."""
    return fields.choice("Sample measured in", [("mL", "mL"), ("g", "g")], initial="mL",
                         hint="mL gives % w/v, g gives % w/w.")  # fmt: skip


def titrant_field(label: str = "Titrant", initial: float = 0.5) -> Any:
    """Strength on the label."""
    return fields.number(label, unit="eq/L (N)", high=20, initial=initial)


def factor_field(label: str = "Factor of the titrant") -> Any:
    """From standardising the titrant."""
    return fields.number(label, high=10, initial=1, hint="From its standardisation; else 1.")


def blank_field(label: str = "Blank") -> Any:
    """A reading without sample."""
    return fields.number(label, high=1000, initial=0,
                         hint="The same without sample, in mL or drops as counted.")  # fmt: skip


def dilution_field() -> Any:
    """How far the sample was thinned."""
    return fields.number("The sample was diluted", unit="times", high=100_000, initial=1,
                         hint="1: not. 10: one part made up to ten.")  # fmt: skip


def counted_field() -> Any:
    """A burette, or drops."""
    return fields.choice("Counted in", [("mL", "mL of a burette"), ("drops", "drops")],
                         initial="mL")  # fmt: skip


def drops_field() -> Any:
    """What makes mL of drops."""
    return fields.number("Drops in a mL", high=200, initial=20, hint="Only where drops count.")


class Titration(Calculator):
    """Fields and figures that every titration has."""

    blame = (
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


def found_figure(label: str, found: Found, *, milligrams: bool = False) -> Figure:
    """What was found with its uncertainty, in % or in mg/L (mg/kg)."""
    if milligrams:
        return figure(label, found.milligrams_per_l_or_kg, _PER[found.basis][1],
                      within=found.uncertainty.expanded * 10_000)  # fmt: skip
    return figure(label, found.percent, found.percent_unit, within=found.uncertainty.expanded)


def grams_figure(label: str, found: Found) -> Figure:
    """The same in g/L or g/kg."""
    return figure(label, found.grams_per_l_or_kg, _PER[found.basis][0],
                  within=found.uncertainty.expanded * 10)  # fmt: skip


def shares_table(*found: Found) -> Table:
    """Where the uncertainty comes from."""
    names = list(dict.fromkeys(name for one in found for name, _ in one.uncertainty.shares_percent))
    rows = []
    for name in names:
        shares = (dict(one.uncertainty.shares_percent).get(name, 0.0) for one in found)
        rows.append((name, *(f"{share:.0f} %" for share in shares)))
    head = ("input", *(f"share, {one.substance}" for one in found))
    return Table("Where the uncertainty comes from", head, tuple(rows))


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
    return (figure("by weight, at 20 °C", ww, "% w/w", within=ww * share),)


DONE_WITH = ("titrant", "factor", "sample", "sample_unit", "dilution", "counted", "drops_per_ml",
              "blank")  # fmt: skip
GOOD_TO = ("How good the glassware is",
            ("burette_ml", "drop_percent", "sample_percent", "titrant_percent"))  # fmt: skip


class OneEndPoint(Titration):
    """Caustic or acid by one end point."""

    slug = "titration"
    title = "Titration, one end point"
    question = "How strong is the caustic or the acid, by titration?"
    parts = (
        ("What was titrated", ("agent", "substance", "equivalent_weight", "reading")),
        ("Done with", DONE_WITH),
        GOOD_TO,
    )
    method = (STOICHIOMETRY, UNCERTAINTY, GLASSWARE, DENSITIES)
    holds = (
        (
            "H3PO4 counts one equivalent, to methyl orange (pH 4.5). For pH 9.5 give 49 g as its "
            "equivalent weight."
        ),
        "Used caustic holds carbonate as well: take the titration with two end points.",
    )

    agent = agent_field("Fills in the substance, and the equivalent weight of a blend.")
    substance = fields.choice(
        "Substance",
        [choice for choice in ActiveSubstance.choices if choice[0] in SOLUTES]
        + [(ActiveSubstance.HNO3_H3PO4.value, ActiveSubstance.HNO3_H3PO4.label)],
        initial="NaOH",
        wide=True,
    )
    equivalent_weight = fields.number(
        "Equivalent weight", unit="g/eq", high=1000, required=False,
        hint="From the label of a blend. Empty: the substance's own.",
    )  # fmt: skip
    reading = fields.number("Titrant used to the end point", high=1000, initial=10.2,
                            hint="In mL or drops, as counted below.")  # fmt: skip
    titrant = titrant_field()
    factor = factor_field()
    sample = sample_field()
    sample_unit = sample_unit_field()
    dilution = dilution_field()
    counted = counted_field()
    drops_per_ml = drops_field()
    blank = blank_field()
    burette_ml, drop_percent, sample_percent, titrant_percent = tolerance_fields()

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
                "equivalent_weight", "A blend needs its equivalent weight: see its label."
            )
        return given

    def work(self, given: dict[str, Any]) -> Answer:
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
                found_figure("strength", found),
                *by_weight(found),
                grams_figure("that is", found),
                figure("equivalents", titrated.eq_per_l_or_kg, f"eq/{per}"),
            ),
            working=(Sum("The sum", titrated.working),),
            tables=(shares_table(found),),
            cautions=cautions_of(given["substance"]),
        )


class UsedCaustic(Titration):
    """Free caustic and carbonate by two end points."""

    slug = "used-caustic"
    title = "Used caustic, two end points"
    question = "How much of the used caustic is still caustic?"
    parts = (
        ("What was titrated", ("substance", "first_reading", "second_reading", "second_from")),
        ("Done with", DONE_WITH),
        GOOD_TO,
    )
    method = (
        (
            "Warder's method: phenolphthalein (pH 8.3), then methyl orange (pH 4.5), with a strong "
            "acid; the five cases of Standard Methods 2320 B, table 2320:II."
        ),
        UNCERTAINTY,
        GLASSWARE,
    )
    holds = ("Where hydroxide, carbonate and bicarbonate are all the alkalinity there is.",)

    substance = fields.choice("Alkali", ActiveSubstance.choices[:2], initial="NaOH", wide=True)
    first_reading = fields.number("To phenolphthalein (P)", high=1000, initial=10,
                                  hint="In mL or drops, as counted below.")  # fmt: skip
    second_reading = fields.number("To methyl orange", high=1000, initial=11.5)
    second_from = fields.choice(
        "The second is counted from", SECOND_FROM, initial="start", wide=True
    )
    titrant = titrant_field()
    factor = factor_field()
    sample = sample_field()
    sample_unit = sample_unit_field()
    dilution = dilution_field()
    counted = counted_field()
    drops_per_ml = drops_field()
    blank = blank_field()
    burette_ml, drop_percent, sample_percent, titrant_percent = tolerance_fields()

    def work(self, given: dict[str, Any]) -> Answer:
        used = used_caustic(
            setup=self.setup(given),
            first_reading=given["first_reading"],
            second_reading=given["second_reading"],
            second_from=given["second_from"],
            alkali=given["substance"],
        )
        parts = (used.hydroxide, used.carbonate, used.bicarbonate)
        there = [one for one in parts if one.percent]
        unit = _PER[used.hydroxide.basis][1]
        return Answer(
            figures=(
                found_figure(f"free {used.hydroxide.substance}", used.hydroxide),
                *(found_figure(f"{one.substance}", one) for one in parts[1:]),
                figure("spent: no longer hydroxide", used.carbonate_share_percent,
                       "% of the alkalinity", significant=3),
                figure("total alkalinity", used.total_alkalinity_mg_l_caco3, f"{unit} as CaCO3"),
            ),
            sentences=((f"The case is {used.case}, with P to the first end point and T from the "
                       "start to the second."),),
            working=(Sum("The sum", used.working),),
            tables=(shares_table(*there),) if there else (),
            warnings=used.notes,
            cautions=cautions_of(given["substance"]),
        )  # fmt: skip


class MixedAcid(Titration):
    """Nitric and phosphoric acid by two end points."""

    slug = "mixed-acid"
    title = "Mixed acid, two end points"
    question = "How much nitric and how much phosphoric acid is in the bath?"
    parts = (
        ("What was titrated", ("first_reading", "second_reading", "second_from")),
        ("Done with", DONE_WITH),
        GOOD_TO,
    )
    method = (
        "Methyl orange (pH 4.5), then pH 9.5, with a strong base: from the first to the second "
        "only phosphoric acid gives a hydrogen. " + STOICHIOMETRY,
        UNCERTAINTY,
        GLASSWARE,
    )
    holds = ("Carbonate in the base and metals in the bath count as phosphoric acid.",)

    first_reading = fields.number("To pH 4.5", high=1000, initial=8,
                                  hint="In mL or drops, as counted below.")  # fmt: skip
    second_reading = fields.number("To pH 9.5", high=1000, initial=11)
    second_from = fields.choice(
        "The second is counted from", SECOND_FROM, initial="start", wide=True
    )
    titrant = titrant_field()
    factor = factor_field()
    sample = sample_field()
    sample_unit = sample_unit_field()
    dilution = dilution_field()
    counted = counted_field()
    drops_per_ml = drops_field()
    blank = blank_field()
    burette_ml, drop_percent, sample_percent, titrant_percent = tolerance_fields()

    def work(self, given: dict[str, Any]) -> Answer:
        acid = mixed_acid(
            setup=self.setup(given),
            first_reading=given["first_reading"],
            second_reading=given["second_reading"],
            second_from=given["second_from"],
        )
        return Answer(
            figures=(
                found_figure("nitric acid, HNO3", acid.nitric),
                found_figure("phosphoric acid, H3PO4", acid.phosphoric),
                grams_figure("nitric acid", acid.nitric),
                grams_figure("phosphoric acid", acid.phosphoric),
            ),
            working=(Sum("The sum", acid.working),),
            tables=(shares_table(acid.nitric, acid.phosphoric),),
            cautions=cautions_of("HNO3"),
        )

"""Titrations of sanitisers that oxidise: peracetic acid with peroxide, chlorine, iodine."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Working, cautions_of, figure
from brewhygiene.bench.calculators.titrations import (
    GLASSWARE,
    IN_ML_OR_DROPS,
    PER,
    PROCEDURE,
    TOLERANCES,
    UNCERTAINTY,
    Titration,
    blank_field,
    factor_field,
    result_figure,
    sample_field,
    sample_unit_field,
    shares_table,
    titrant_field,
)
from brewhygiene.regimes.models import ActiveSubstance
from brewhygiene.science.solutions.oxidants import (
    available_chlorine,
    peracid_and_peroxide,
    titratable_iodine,
)


class Peracetic(Titration):
    """Peroxide, then peracetic acid, in one sample."""

    slug = "peracetic"
    title = "Peracetic acid and peroxide"
    about = "Both strengths from one sample"
    fieldsets = (
        ("First: peroxide", ("peroxide_reading", "titrant", "factor", "blank")),
        (
            "Second: peracetic acid",
            ("peracid_reading", "peracid_titrant", "peracid_factor", "peracid_blank"),
        ),
        ("Procedure", ("sample", "sample_unit", "dilution", "counted", "drops_per_ml")),
        TOLERANCES,
    )
    method = (
        (
            "Peroxide by permanganate or cerium(IV), then peracetic acid by iodide and thiosulfate "
            "(Greenspan and MacKellar, Anal. Chem. 20 (1948) 1061, citation from memory)."
        ),
        UNCERTAINTY,
        GLASSWARE,
    )

    peroxide_reading = fields.number("Permanganate or cerium(IV) used", high=1000, initial=9.4,
                                     hint=IN_ML_OR_DROPS)  # fmt: skip
    titrant = titrant_field(0.1, "Strength of the permanganate or cerium(IV)")
    factor = factor_field("Factor of the permanganate or cerium(IV)")
    blank = blank_field("Blank of the peroxide")
    peracid_reading = fields.number("Thiosulfate used", high=1000, initial=2.63)
    peracid_titrant = titrant_field(0.1, "Strength of the thiosulfate")
    peracid_factor = factor_field("Factor of the thiosulfate")
    peracid_blank = blank_field("Blank of the peracetic acid")
    sample = sample_field(5)
    sample_unit = sample_unit_field("g")

    def calculate(self, given: dict[str, Any]) -> Answer:
        both = peracid_and_peroxide(
            peroxide_setup=self.setup(given),
            peroxide_reading=given["peroxide_reading"],
            peracid_setup=self.setup(given, "peracid_"),
            peracid_reading=given["peracid_reading"],
        )
        pair = (("peracetic acid", both.peracid), ("hydrogen peroxide", both.peroxide))
        return Answer(
            figures=(
                *(result_figure(name, found) for name, found in pair),
                *(
                    result_figure(f"{name} in {PER[found.basis][1]}", found, milligrams=True)
                    for name, found in pair
                ),
            ),
            working=(Working("Calculation", both.working),),
            tables=(shares_table(both.peracid, both.peroxide),),
            warnings=both.notes,
            cautions=cautions_of("PAA"),
        )


class Halogen(Titration):
    """Available chlorine or iodine by thiosulfate."""

    slug = "chlorine-iodine"
    title = "Chlorine and iodine"
    about = "Available chlorine, or iodine, in a sanitiser"
    fieldsets = (("Titration", ("substance", "reading")), PROCEDURE, TOLERANCES)
    method = (
        (
            "Iodide and thiosulfate: Standard Methods 4500-Cl B for chlorine, counted as Cl2. "
            "126.9 g of iodine an equivalent."
        ),
        UNCERTAINTY,
        GLASSWARE,
    )
    valid_for = ("Other oxidants that free iodine count as well, e.g. peracids and peroxide.",)

    substance = fields.choice(
        "Sanitiser",
        [choice for choice in ActiveSubstance.choices if choice[0] in ("chlorine", "iodine")],
        initial="chlorine",
        wide=True,
    )
    reading = fields.number("Thiosulfate used", high=1000, initial=0.564, hint=IN_ML_OR_DROPS)
    titrant = titrant_field(0.1)
    sample = sample_field(100)

    def calculate(self, given: dict[str, Any]) -> Answer:
        setup = self.setup(given)
        more: tuple[Figure, ...] = ()
        if given["substance"] == "chlorine":
            chlorine = available_chlorine(setup=setup, reading=given["reading"])
            label, found, working = "available chlorine", chlorine.chlorine, chlorine.working
            more = (
                figure("as sodium hypochlorite, NaClO", chlorine.hypochlorite_percent,
                       found.percent_unit),
            )  # fmt: skip
        else:
            iodine = titratable_iodine(setup=setup, reading=given["reading"])
            label, found, working = "iodine", iodine.found, iodine.working
        return Answer(
            figures=(
                result_figure(label, found, milligrams=True),
                result_figure(f"{label} in %", found),
                *more,
            ),
            working=(Working("Calculation", working),),
            tables=(shares_table(found),),
            warnings=()
            if given["reading"]
            else ("No thiosulfate was used. Check that the sample was treated.",),
            cautions=cautions_of(given["substance"]),
        )

"""Titrations of sanitisers that oxidise: peracetic acid with peroxide, chlorine, iodine."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Sum, cautions_of, figure
from brewhygiene.bench.calculators.titrations import (
    DONE_WITH,
    GLASSWARE,
    GOOD_TO,
    UNCERTAINTY,
    Titration,
    blank_field,
    counted_field,
    dilution_field,
    drops_field,
    factor_field,
    found_figure,
    sample_unit_field,
    shares_table,
    titrant_field,
    tolerance_fields,
)
from brewhygiene.quantities.parsing import show_number
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
    question = "How much peracetic acid, and how much peroxide, is in the solution?"
    parts = (
        ("First: the peroxide", ("peroxide_reading", "titrant", "factor", "blank")),
        (
            "Then: the peracetic acid",
            ("peracid_reading", "peracid_titrant", "peracid_factor", "peracid_blank"),
        ),
        ("The one sample", ("sample", "sample_unit", "dilution", "counted", "drops_per_ml")),
        GOOD_TO,
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
                                     hint="In mL or drops, as counted below.")  # fmt: skip
    titrant = titrant_field("Strength of the permanganate or cerium(IV)", 0.1)
    factor = factor_field("Factor of the permanganate or cerium(IV)")
    blank = blank_field("Blank of the peroxide")
    peracid_reading = fields.number("Thiosulfate used", high=1000, initial=2.63)
    peracid_titrant = titrant_field("Strength of the thiosulfate", 0.1)
    peracid_factor = factor_field("Factor of the thiosulfate")
    peracid_blank = blank_field("Blank of the peracetic acid")
    sample = fields.number("Sample", high=10_000, initial=5)
    sample_unit = fields.choice("Sample measured in", [("mL", "mL"), ("g", "g")], initial="g",
                                hint="mL gives % w/v, g gives % w/w.")  # fmt: skip
    dilution = dilution_field()
    counted = counted_field()
    drops_per_ml = drops_field()
    burette_ml, drop_percent, sample_percent, titrant_percent = tolerance_fields()

    def work(self, given: dict[str, Any]) -> Answer:
        both = peracid_and_peroxide(
            peroxide_setup=self.setup(given),
            peroxide_reading=given["peroxide_reading"],
            peracid_setup=self.setup(given, "peracid_"),
            peracid_reading=given["peracid_reading"],
        )
        return Answer(
            figures=(
                found_figure("peracetic acid", both.peracid),
                found_figure("hydrogen peroxide", both.peroxide),
                found_figure("that is peracetic acid", both.peracid, milligrams=True),
                found_figure("and hydrogen peroxide", both.peroxide, milligrams=True),
            ),
            working=(Sum("The sum", both.working),),
            tables=(shares_table(both.peracid, both.peroxide),),
            warnings=both.notes,
            cautions=cautions_of("PAA"),
        )


class Halogen(Titration):
    """Available chlorine or iodine by thiosulfate."""

    slug = "chlorine-iodine"
    title = "Chlorine and iodine"
    question = "How much available chlorine, or iodine, is in the sanitiser?"
    parts = (
        ("What was titrated", ("substance", "reading")),
        ("Done with", DONE_WITH),
        GOOD_TO,
    )
    method = (
        (
            "Iodide and thiosulfate: Standard Methods 4500-Cl B for chlorine, counted as Cl2; "
            "126.9 g of iodine an equivalent."
        ),
        UNCERTAINTY,
        GLASSWARE,
    )
    holds = ("Anything else that frees iodine, as peracids and peroxide do, counts as well.",)

    substance = fields.choice(
        "Sanitiser",
        [choice for choice in ActiveSubstance.choices if choice[0] in ("chlorine", "iodine")],
        initial="chlorine",
        wide=True,
    )
    reading = fields.number("Thiosulfate used", high=1000, initial=0.564,
                            hint="In mL or drops, as counted below.")  # fmt: skip
    titrant = titrant_field(initial=0.1)
    factor = factor_field()
    sample = fields.number("Sample", high=10_000, initial=100)
    sample_unit = sample_unit_field()
    dilution = dilution_field()
    counted = counted_field()
    drops_per_ml = drops_field()
    blank = blank_field()
    burette_ml, drop_percent, sample_percent, titrant_percent = tolerance_fields()

    def work(self, given: dict[str, Any]) -> Answer:
        setup = self.setup(given)
        if given["substance"] == "chlorine":
            chlorine = available_chlorine(setup=setup, reading=given["reading"])
            found, working = chlorine.chlorine, chlorine.working
            label = "available chlorine"
            more: tuple[Figure, ...] = (
                figure("as sodium hypochlorite, NaClO", chlorine.hypochlorite_percent,
                       found.percent_unit),
            )  # fmt: skip
        else:
            iodine = titratable_iodine(setup=setup, reading=given["reading"])
            found, working, label, more = iodine.found, iodine.working, "iodine", ()
        return Answer(
            figures=(
                found_figure(label, found, milligrams=True),
                found_figure("that is", found),
                *more,
            ),
            working=(Sum("The sum", working),),
            tables=(shares_table(found),),
            warnings=()
            if show_number(given["reading"]) != "0"
            else ("Nothing was used: nothing was found, or the sample was never treated.",),
            cautions=cautions_of(given["substance"]),
        )

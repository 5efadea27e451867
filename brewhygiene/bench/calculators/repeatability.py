"""Whether a reading says more of the place than of the stick, the meter and the hand."""

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Sum, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.science.working import WorkingLine

if TYPE_CHECKING:
    from brewhygiene.science.agreement.repeating import Gauge

# A rule of thumb of the manual, as a share of the total spread: SDs, not variances.
GOOD_PERCENT, BAD_PERCENT = 10, 30
# So many groups of places are to be told apart, by the same manual.
TELLS_APART = 5
_EXAMPLE = "\n".join(
    f"{person}; {place}; {rlu}"
    for place, read in enumerate((((0, 1), (1, 1)), ((4, 6), (5, 8)), ((22, 31), (27, 19)),
                                  ((95, 140), (110, 88)), ((3, 2), (2, 4))), start=1)
    for person, twice in enumerate(read, start=1)
    for rlu in twice
)  # fmt: skip


class Repeats(Calculator):
    """Gauge repeatability and reproducibility of RLU."""

    slug = "repeats"
    title = "Do readings repeat?"
    question = "How much of the spread is the place, and how much the sticks, meter and hands?"
    parts = (("The readings", ("readings", "scale")),)
    method = (
        (
            "Two-way analysis of variance, places and people at random: AIAG, Measurement Systems "
            "Analysis, 4th ed. (2010), ch. III (read)."
        ),
        (
            f"Below {GOOD_PERCENT} % of the total spread good, above {BAD_PERCENT} % poor, "
            f"{TELLS_APART} groups told apart: the same manual's rules of thumb (from memory)."
        ),
    )
    holds = (
        (
            "One meter and one kind of stick; every person reads every place equally often. Swab "
            "places beside each other: the first swab takes the soil away."
        ),
    )
    blame = (("read", ("readings",)), ("person", ("readings",)), ("repeat", ("readings",)))

    readings = fields.LinesField(
        columns=("person", "place", "RLU"),
        label="Person, place and RLU",
        initial=_EXAMPLE,
        help_text="A line a reading, with a space or a semicolon between. Number the people and "
        "the places; each person reads each place twice at least.",
        error_messages={"required": "Paste the readings."},
    )
    scale = fields.choice(
        "Spread is told",
        [("factor", "as a factor"), ("rlu", "in RLU")],
        initial="factor",
        hint="On log10(RLU + 1): RLU spread more the higher they are, so that a factor mostly says "
        "it better.",
    )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        for line, (*_, rlu) in enumerate(given.get("readings") or [], start=1):
            if rlu < 0 or rlu != int(rlu):
                self.add_error("readings", f"Reading {line} is {rlu:g}: RLU are whole, from 0.")
                break
        return given

    def work(self, given: dict[str, Any]) -> Answer:
        import math

        from brewhygiene.science.agreement.repeating import gauge_study

        by_factor = given["scale"] == "factor"
        cells: dict[float, dict[float, list[float]]] = defaultdict(lambda: defaultdict(list))
        for person, place, rlu in given["readings"]:
            cells[person][place].append(math.log10(rlu + 1) if by_factor else rlu)
        places = sorted({place for read in cells.values() for place in read})
        found = gauge_study(
            readings={
                f"{person:g}": [read.get(place, []) for place in places]
                for person, read in sorted(cells.items())
            }
        )
        share = 100 * found.gauge / found.total
        unit = "log10(RLU + 1)" if by_factor else "RLU"

        def spread(label: str, sd: float) -> Figure:
            if by_factor:
                return figure(label, 10**sd, "-fold", significant=3)
            return figure(label, sd, unit, significant=3)

        return Answer(
            figures=(
                figure("sticks, meter and hands together", share, "% of the total spread",
                       significant=3),
                spread("one person, one place, read again", found.repeatability),
                spread("between people", found.reproducibility),
                spread("between places", found.parts),
                figure("groups of places told apart", max(1, math.floor(found.categories))),
            ),
            working=(Sum("The sum", tuple(_lines(found, unit))),),
            sentences=tuple(_says(found, share)),
        )  # fmt: skip


def _lines(found: "Gauge", unit: str) -> list[WorkingLine]:
    def square(label: str, rule: str, numbers: str, value: float) -> WorkingLine:
        return WorkingLine(label, rule, numbers, value, unit)

    return [
        square("repeatability, EV", "√ mean square within", "of all repeats", found.repeatability),
        square("reproducibility, AV", "√ variance between people", "from their mean squares",
               found.reproducibility),
        square("gauge, GRR", "√(EV² + AV²)",
               f"√({found.repeatability:.4g}² + {found.reproducibility:.4g}²)", found.gauge),
        square("places, PV", "√ variance between places", "from their mean squares", found.parts),
        square("total, TV", "√(GRR² + PV²)", f"√({found.gauge:.4g}² + {found.parts:.4g}²)",
               found.total),
        WorkingLine("share", "100 GRR / TV", f"100 × {found.gauge:.4g} / {found.total:.4g}",
                    100 * found.gauge / found.total, "%"),
        WorkingLine("groups, ndc", "√2 PV / GRR", f"1.41 × {found.parts:.4g} / {found.gauge:.4g}",
                    found.categories),
    ]  # fmt: skip


def _says(found: "Gauge", share: float) -> list[str]:
    if share <= GOOD_PERCENT:
        said = ["A reading says nearly all of the place."]
    elif share <= BAD_PERCENT:
        said = ["A reading says mostly of the place; close to a limit, a second stick helps."]
    else:
        said = [
            (
                "A reading says as much of sticks, meter and hands as of the place. Close to a "
                "limit it decides little: look at how samples are taken before limits are set."
            )
        ]
    if found.reproducibility > found.repeatability:
        said.append("People differ more than their own repeats: go through the method together.")
    if not found.pooled:
        said.append("Some places are read differently by different people: look at those first.")
    return said

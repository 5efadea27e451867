"""Repeatability and reproducibility of ATP readings: gauge R&R."""

from collections import defaultdict
from typing import TYPE_CHECKING, Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Working, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.quantities.style import digits
from brewhygiene.science.working import WorkingLine

if TYPE_CHECKING:
    from brewhygiene.science.agreement.repeating import Gauge

# A rule of thumb of the manual, as a share of the total variation: SDs, not variances.
GOOD_PERCENT, BAD_PERCENT = 10, 30
# The least number of distinct categories, by the same manual.
CATEGORIES = 5
_EXAMPLE = "\n".join(
    f"{person}; {point}; {rlu}"
    for point, read in enumerate((((0, 1), (1, 1)), ((4, 6), (5, 8)), ((22, 31), (27, 19)),
                                  ((95, 140), (110, 88)), ((3, 2), (2, 4))), start=1)
    for person, twice in enumerate(read, start=1)
    for rlu in twice
)  # fmt: skip


class Repeatability(Calculator):
    """Gauge repeatability and reproducibility of RLU."""

    slug = "repeatability"
    title = "Repeatability of readings"
    about = "Variation from ATP tests, meter and people, and between points"
    fieldsets = (("Readings", ("readings", "scale")),)
    method = (
        (
            "Two-way analysis of variance, points and people random: AIAG, Measurement Systems "
            "Analysis, 4th ed. (2010), ch. III (read)."
        ),
        (
            f"Below {GOOD_PERCENT} % of the total variation good, above {BAD_PERCENT} % poor, at "
            f"least {CATEGORIES} distinct categories: the manual's rules of thumb (from memory)."
        ),
    )
    valid_for = (
        (
            "One meter and one type of ATP test. Every person samples every point equally often. "
            "Swab areas beside each other, because the first swab removes the soil."
        ),
    )
    refusal_fields = (("read", ("readings",)), ("person", ("readings",)), ("repeat", ("readings",)))

    readings = fields.LinesField(
        columns=("person", "point", "RLU"),
        label="Person, sampling point and RLU",
        initial=_EXAMPLE,
        help_text="One reading a line, e.g. 1; 3; 22. Number the people and the points. Each "
        "person samples each point at least twice.",
        error_messages={"required": "Enter the readings."},
    )
    scale = fields.choice(
        "Variation as",
        [("factor", "A factor"), ("rlu", "RLU")],
        initial="factor",
        hint="A factor is computed on log10(RLU + 1). It usually fits better, because high RLU "
        "vary more.",
    )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        for line, (*_, rlu) in enumerate(given.get("readings") or [], start=1):
            if rlu < 0 or rlu != int(rlu):
                self.add_error(
                    "readings",
                    f"Reading {line} is {digits(rlu, 'g')}. Enter RLU as whole numbers from 0.",
                )
                break
        return given

    def calculate(self, given: dict[str, Any]) -> Answer:
        import math

        from brewhygiene.science.agreement.repeating import gauge_study

        by_factor = given["scale"] == "factor"
        cells: dict[float, dict[float, list[float]]] = defaultdict(lambda: defaultdict(list))
        for person, point, rlu in given["readings"]:
            cells[person][point].append(math.log10(rlu + 1) if by_factor else rlu)
        points = sorted({point for read in cells.values() for point in read})
        found = gauge_study(
            readings={
                f"{person:g}": [read.get(point, []) for point in points]
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
                figure("measurement system, GRR", share, "% of the total variation",
                       significant=3),
                spread("repeatability, one person and point", found.repeatability),
                spread("reproducibility, between people", found.reproducibility),
                spread("variation between points", found.parts),
                figure("distinct categories", max(1, math.floor(found.categories))),
            ),
            working=(Working("Calculation", tuple(_lines(found, unit))),),
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
               f"√({digits(found.repeatability, '.4g')}² "
               f"+ {digits(found.reproducibility, '.4g')}²)",
               found.gauge),
        square("points, PV", "√ variance between points", "from their mean squares", found.parts),
        square("total, TV", "√(GRR² + PV²)",
               f"√({digits(found.gauge, '.4g')}² + {digits(found.parts, '.4g')}²)",
               found.total),
        WorkingLine("share", "100 GRR / TV",
                    f"100 × {digits(found.gauge, '.4g')} / {digits(found.total, '.4g')}",
                    100 * found.gauge / found.total, "%"),
        WorkingLine("distinct categories, ndc", "√2 PV / GRR",
                    f"1.41 × {digits(found.parts, '.4g')} / {digits(found.gauge, '.4g')}",
                    found.categories),
    ]  # fmt: skip


def _says(found: "Gauge", share: float) -> list[str]:
    if share <= GOOD_PERCENT:
        said = ["Readings differ almost only because the points do."]
    elif share <= BAD_PERCENT:
        said = ["The method is fair. Close to a limit, take a second reading."]
    else:
        said = [
            "The method varies too much for a decision close to a limit.",
            "Review how samples are taken before you set limits.",
        ]
    if found.reproducibility > found.repeatability:
        said.append("People differ more than their own repeats. Go through the method together.")
    if not found.pooled:
        said.append("People differ more at some points than at others. Look at those points first.")
    return said

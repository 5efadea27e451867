"""What grew: colonies on dishes, and tubes that grew or did not."""

from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Sum, figure
from brewhygiene.bench.calculator import Calculator
from brewhygiene.quantities.fields import CountField, NumberField
from brewhygiene.science.counting.colonies import (
    MOST_COUNTABLE,
    ColonyCount,
    Dish,
    colony_count,
    swab_factor,
    two_figures,
)
from brewhygiene.science.counting.mpn import MostProbableNumber, most_probable_number
from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.working import shown

DISHES = (1, 2, 3, 4)
DILUTIONS = (1, 2, 3)
MIXED = (
    "Of a well mixed sample. Clumps, pipetting, and cells that do not grow on the medium come on "
    "top, and nothing here sees them."
)
COUNTED = (("yes", "counted"), ("no", "too many to count"))


def _count(label: str, *, high: float, initial: int | None, required: bool = False) -> CountField:
    return CountField(
        label=label, high=high, initial=initial, required=required, pad=True,
        error_messages=fields.NUMBER_NEEDED,
    )  # fmt: skip


def _volume(number: int, initial: float | None) -> NumberField:
    return fields.number(
        f"Volume on dish {number}", unit="mL", high=10_000, initial=initial, required=False
    )


def _dilution(number: int, initial: float | None) -> NumberField:
    return fields.number(
        f"Dish {number} diluted", unit="times", high=1e9, initial=initial, required=False
    )


def _figures(value: float) -> str:
    return shown(two_figures(value=value), significant=3)


class Colonies(Calculator):
    """Colonies on dishes to CFU."""

    slug = "colonies"
    title = "Colonies to CFU"
    question = "How many CFU are in a mL, or on 100 cm², and how sure is that?"
    parts = (
        *(
            (f"Dish {n}", (f"colonies_{n}", f"counted_{n}", f"volume_{n}", f"dilution_{n}"))
            for n in DISHES
        ),
        ("A swab", ("suspension", "area")),
    )
    folded = frozenset({"Dish 3", "Dish 4", "A swab"})
    method = (
        "Weighted mean of two successive dilutions: ISO 7218:2007, Amendment 1:2013 (from memory).",
        "Exact Poisson limits: Garwood, Biometrika 28 (1936) 437-442.",
        "Two figures, a five to the even one: manuals of plate counts (from memory).",
    )
    holds = (
        f"Dishes of 90 mm: 10 to {MOST_COUNTABLE} colonies. Fewer are an estimate, more left out.",
    )
    blame = (
        ("dilution", tuple(f"dilution_{n}" for n in DISHES)),
        ("volume on the dish", tuple(f"volume_{n}" for n in DISHES)),
        ("liquid of the swab", ("suspension",)),
        ("area", ("area",)),
        ("swab", ("suspension", "area")),
        ("dish", ("colonies_1",)),
    )

    colonies_1 = _count("Colonies on dish 1", high=100_000, initial=168)
    counted_1 = fields.choice("Dish 1 was", COUNTED, initial="yes")
    volume_1 = _volume(1, 1)
    dilution_1 = _dilution(1, 100)
    colonies_2 = _count("Colonies on dish 2", high=100_000, initial=14)
    counted_2 = fields.choice("Dish 2 was", COUNTED, initial="yes")
    volume_2 = _volume(2, 1)
    dilution_2 = _dilution(2, 1000)
    colonies_3 = _count("Colonies on dish 3", high=100_000, initial=None)
    counted_3 = fields.choice("Dish 3 was", COUNTED, initial="yes")
    volume_3 = _volume(3, None)
    dilution_3 = _dilution(3, None)
    colonies_4 = _count("Colonies on dish 4", high=100_000, initial=None)
    counted_4 = fields.choice("Dish 4 was", COUNTED, initial="yes")
    volume_4 = _volume(4, None)
    dilution_4 = _dilution(4, None)
    suspension = fields.number("Taken up in", unit="mL", high=10_000, required=False)
    area = fields.number("Area swabbed", unit="cm²", high=10_000, required=False)

    def work(self, given: dict[str, Any]) -> Answer:
        found = colony_count(dishes=self._dishes(given))
        swab = (given["suspension"], given["area"])
        if (swab[0] is None) != (swab[1] is None):
            raise OutOfRange("A swab needs both the mL it was taken up in and its area.")
        factor, unit = 1.0, "CFU/mL"
        if swab[0] is not None:
            factor = swab_factor(suspension_ml=swab[0], area_cm2=swab[1])
            unit = "CFU/100 cm²"
        return Answer(
            figures=_colony_figures(found, factor, unit),
            working=(Sum("The sum", found.working),),
            sentences=(found.says,) if found.says else (),
            warnings=(MIXED,),
        )

    def _dishes(self, given: dict[str, Any]) -> list[Dish]:
        dishes = []
        for n in DISHES:
            colonies, full = given[f"colonies_{n}"], given[f"counted_{n}"] == "no"
            volume, dilution = given[f"volume_{n}"], given[f"dilution_{n}"]
            if volume is None and colonies is None and dilution is None and not full:
                continue
            if volume is None or (colonies is None and not full):
                raise TooFewReadings(
                    f"Dish {n} needs the mL on it, and its colonies or that there were too many."
                )
            dishes.append(Dish(dilution or 1, volume, None if full else colonies))
        return dishes


def _colony_figures(found: ColonyCount, factor: float, unit: str) -> tuple[Figure, ...]:
    low = found.low_per_ml * factor
    high = None if found.high_per_ml is None else found.high_per_ml * factor
    if found.kind == "none_found" and high is not None:
        return (
            Figure("none found: below", _figures(high), unit, note="with 95 % confidence"),
            figure("sample looked at", found.amount_ml, "mL"),
        )
    if found.per_ml is None:
        more = (Figure("and less than", _figures(high), unit),) if high is not None else ()
        return (Figure("more than", _figures(low), unit), *more)
    value = found.per_ml * factor
    note = "an estimate" if found.kind == "estimated" else ""
    ends = () if high is None else (Figure("true number, at most", _figures(high), unit),)
    return (
        Figure("reported", _figures(value), unit, note=note),
        figure("weighted mean", value, unit, significant=6),
        Figure("true number, at least", _figures(low), unit, note="with 95 % confidence"),
        *ends,
    )


class Tubes(Calculator):
    """Most probable number from tubes."""

    slug = "most-probable-number"
    title = "Most probable number"
    question = "Some tubes grew and some did not: how many cells are in a mL?"
    parts = tuple(
        (
            ("First dilution", "Second dilution", "Third dilution")[n - 1],
            (f"grew_{n}", f"tubes_{n}", f"amount_{n}"),
        )
        for n in DILUTIONS
    )
    method = (
        "Greatest likelihood, interval of its ratio: Ridout, Biometrics 50 (1994) 289-296.",
        "Rarity: Jarvis, Wilrich, Wilrich, J. Appl. Microbiol. 109 (2010) 1660-1667.",
    )
    blame = (
        ("tubes that grew", tuple(f"grew_{n}" for n in DILUTIONS)),
        ("number of tubes", tuple(f"tubes_{n}" for n in DILUTIONS)),
        ("sample in a tube", tuple(f"amount_{n}" for n in DILUTIONS)),
        ("dilution", ("grew_1",)),
    )

    grew_1 = _count("Grew, first", high=1000, initial=5)
    tubes_1 = _count("Of tubes, first", high=1000, initial=5)
    amount_1 = fields.number("Sample in each, first", unit="mL", high=10_000, initial=10,
                             required=False)  # fmt: skip
    grew_2 = _count("Grew, second", high=1000, initial=1)
    tubes_2 = _count("Of tubes, second", high=1000, initial=5)
    amount_2 = fields.number("Sample in each, second", unit="mL", high=10_000, initial=1,
                             required=False)  # fmt: skip
    grew_3 = _count("Grew, third", high=1000, initial=0)
    tubes_3 = _count("Of tubes, third", high=1000, initial=5)
    amount_3 = fields.number("Sample in each, third", unit="mL", high=10_000, initial=0.1,
                             required=False)  # fmt: skip

    def work(self, given: dict[str, Any]) -> Answer:
        rows = []
        for n in DILUTIONS:
            row = (given[f"grew_{n}"], given[f"tubes_{n}"], given[f"amount_{n}"])
            if all(value is None for value in row):
                continue
            if any(value is None for value in row):
                raise TooFewReadings(
                    "A dilution needs how many tubes grew, of how many, and the mL in each."
                )
            rows.append(row)
        found = most_probable_number(
            positive=[row[0] for row in rows],
            tubes=[row[1] for row in rows],
            amounts_ml=[row[2] for row in rows],
        )
        return Answer(
            figures=_tube_figures(found),
            working=(Sum("The sum", found.working),),
            sentences=(found.says,) if found.says else (),
            warnings=(MIXED,),
        )


def _tube_figures(found: MostProbableNumber) -> tuple[Figure, ...]:
    sure = "with 95 % confidence"
    if found.per_ml is None or found.high_per_ml is None:
        return (Figure("more than", _figures(found.low_per_ml), "per mL", note=sure),)
    high = _figures(found.high_per_ml)
    if found.per_ml == 0:
        return (Figure("below", high, "per mL", note=sure),)
    return (
        Figure("most probable number", _figures(found.per_ml), "per mL"),
        Figure("in 100 mL", _figures(100 * found.per_ml)),
        Figure("true number, at least", _figures(found.low_per_ml), "per mL", note=sure),
        Figure("true number, at most", high, "per mL"),
        figure("rarity", found.rarity, note="1 is the likeliest outcome; below 0.05 improbable",
               significant=2),
    )  # fmt: skip

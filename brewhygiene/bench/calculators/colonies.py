"""Colonies on plates to CFU, and the most probable number from tubes."""

from typing import Any

from django import forms

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer, Figure, Working, figure
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
from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.working import shown

DISHES = (1, 2, 3, 4)
DILUTIONS = (1, 2, 3)
MIXED = (
    "The interval is for a well mixed sample. It does not include clumps, pipetting errors or "
    "cells that do not grow on the medium."
)
COUNTED = (("yes", "Counted"), ("no", "Too many to count"))
SURE = "with 95 % confidence"


def _count(label: str, *, high: float, initial: int | None, required: bool = False) -> CountField:
    return CountField(
        label=label, high=high, initial=initial, required=required, pad=True,
        error_messages=fields.NUMBER_NEEDED,
    )  # fmt: skip


def _amount(label: str, unit: str, high: float, initial: float | None) -> NumberField:
    return fields.number(label, unit=unit, high=high, initial=initial, required=False)


def _dish(
    n: int, colonies: int | None, volume: float | None, dilution: float | None
) -> tuple[CountField, forms.ChoiceField, NumberField, NumberField]:
    return (
        _count(f"Colonies on dish {n}", high=100_000, initial=colonies),
        fields.choice(f"Count of dish {n}", COUNTED, initial="yes"),
        _amount(f"Volume on dish {n}", "mL", 10_000, volume),
        _amount(f"Dilution of dish {n}", "times", 1e9, dilution),
    )


def _tubes(nth: str, grew: int, amount: float) -> tuple[CountField, CountField, NumberField]:
    return (
        _count(f"Tubes with growth, {nth}", high=1000, initial=grew),
        _count(f"Tubes in all, {nth}", high=1000, initial=5),
        _amount(f"Sample per tube, {nth}", "mL", 10_000, amount),
    )


def _figures(value: float) -> str:
    return shown(two_figures(value=value), significant=3)


class PlateCount(Calculator):
    """Colonies on plates to CFU."""

    slug = "colonies"
    title = "CFU from colonies"
    about = "CFU per mL or per 100 cm², with its interval"
    fieldsets = (
        *(
            (f"Dish {n}", (f"colonies_{n}", f"counted_{n}", f"volume_{n}", f"dilution_{n}"))
            for n in DISHES
        ),
        ("Swab", ("suspension", "area")),
    )
    optional = frozenset({"Dish 3", "Dish 4", "Swab"})
    method = (
        "Weighted mean of two successive dilutions: ISO 7218:2007, Amendment 1:2013 (from memory).",
        "Exact Poisson limits: Garwood, Biometrika 28 (1936) 437-442.",
        "Rounded to two figures, a five to the even one: manuals of plate counts (from memory).",
    )
    valid_for = (
        f"Dishes of 90 mm with 10 to {MOST_COUNTABLE} colonies. Fewer are an estimate.",
        f"Dishes with more than {MOST_COUNTABLE} colonies are excluded.",
    )
    refusal_fields = (
        ("dilution", tuple(f"dilution_{n}" for n in DISHES)),
        ("volume on the dish", tuple(f"volume_{n}" for n in DISHES)),
        ("liquid of the swab", ("suspension",)),
        ("area", ("area",)),
        ("swab", ("suspension", "area")),
        ("dish", ("colonies_1",)),
    )

    colonies_1, counted_1, volume_1, dilution_1 = _dish(1, 168, 1, 100)
    colonies_2, counted_2, volume_2, dilution_2 = _dish(2, 14, 1, 1000)
    colonies_3, counted_3, volume_3, dilution_3 = _dish(3, None, None, None)
    colonies_4, counted_4, volume_4, dilution_4 = _dish(4, None, None, None)
    suspension = _amount("Liquid of the swab", "mL", 10_000, None)
    area = _amount("Area swabbed", "cm²", 10_000, None)

    def clean(self) -> dict[str, Any]:
        self.need_both(
            "suspension", "area", "Enter both the liquid of the swab and its area, or neither."
        )
        return self.cleaned_data

    def calculate(self, given: dict[str, Any]) -> Answer:
        found = colony_count(dishes=self._dishes(given))
        factor, unit = 1.0, "CFU/mL"
        if given["suspension"] is not None:
            factor = swab_factor(suspension_ml=given["suspension"], area_cm2=given["area"])
            unit = "CFU/100 cm²"
        return Answer(
            figures=_colony_figures(found, factor, unit),
            working=(Working("Calculation", found.working),),
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
                    f"Enter the volume on dish {n}, and its colonies or that there are too many."
                )
            dishes.append(Dish(dilution or 1, volume, None if full else colonies))
        return dishes


def _colony_figures(found: ColonyCount, factor: float, unit: str) -> tuple[Figure, ...]:
    low = found.low_per_ml * factor
    high = None if found.high_per_ml is None else found.high_per_ml * factor
    if found.kind == "none_found" and high is not None:
        return (
            Figure("none found, less than", _figures(high), unit, note=SURE),
            figure("sample on the dishes", found.amount_ml, "mL"),
        )
    if found.per_ml is None:
        more = (Figure("and less than", _figures(high), unit),) if high is not None else ()
        return (Figure("more than", _figures(low), unit), *more)
    value = found.per_ml * factor
    note = "an estimate" if found.kind == "estimated" else ""
    ends = () if high is None else (Figure("upper limit", _figures(high), unit, note=SURE),)
    return (
        Figure("count to report", _figures(value), unit, note=note),
        figure("weighted mean", value, unit, significant=6),
        Figure("lower limit", _figures(low), unit, note=SURE),
        *ends,
    )


class TubeCount(Calculator):
    """Most probable number from tubes."""

    slug = "most-probable-number"
    title = "Most probable number"
    about = "Cells per mL from tubes with and without growth"
    fieldsets = tuple(
        (
            ("First dilution", "Second dilution", "Third dilution")[n - 1],
            (f"grew_{n}", f"tubes_{n}", f"amount_{n}"),
        )
        for n in DILUTIONS
    )
    method = (
        "Maximum likelihood, likelihood-ratio interval: Ridout, Biometrics 50 (1994) 289-296.",
        "Rarity index: Jarvis, Wilrich, Wilrich, J. Appl. Microbiol. 109 (2010) 1660-1667.",
    )
    refusal_fields = (
        ("tubes with growth", tuple(f"grew_{n}" for n in DILUTIONS)),
        ("number of tubes", tuple(f"tubes_{n}" for n in DILUTIONS)),
        ("sample per tube", tuple(f"amount_{n}" for n in DILUTIONS)),
        ("dilution", ("grew_1",)),
    )

    grew_1, tubes_1, amount_1 = _tubes("first", 5, 10)
    grew_2, tubes_2, amount_2 = _tubes("second", 1, 1)
    grew_3, tubes_3, amount_3 = _tubes("third", 0, 0.1)

    def calculate(self, given: dict[str, Any]) -> Answer:
        rows = []
        for n in DILUTIONS:
            row = (given[f"grew_{n}"], given[f"tubes_{n}"], given[f"amount_{n}"])
            if all(value is None for value in row):
                continue
            if any(value is None for value in row):
                raise TooFewReadings(
                    "For each dilution, enter tubes with growth, tubes in all, and mL per tube."
                )
            rows.append(row)
        found = most_probable_number(
            positive=[row[0] for row in rows],
            tubes=[row[1] for row in rows],
            amounts_ml=[row[2] for row in rows],
        )
        return Answer(
            figures=_tube_figures(found),
            working=(Working("Calculation", found.working),),
            sentences=(found.says,) if found.says else (),
            warnings=(MIXED,),
        )


def _tube_figures(found: MostProbableNumber) -> tuple[Figure, ...]:
    if found.per_ml is None or found.high_per_ml is None:
        return (Figure("more than", _figures(found.low_per_ml), "per mL", note=SURE),)
    high = _figures(found.high_per_ml)
    if found.per_ml == 0:
        return (Figure("less than", high, "per mL", note=SURE),)
    return (
        Figure("most probable number", _figures(found.per_ml), "per mL"),
        Figure("per 100 mL", _figures(100 * found.per_ml)),
        Figure("lower limit", _figures(found.low_per_ml), "per mL", note=SURE),
        Figure("upper limit", high, "per mL", note=SURE),
        figure("rarity index", found.rarity, significant=2,
               note="1 is the likeliest outcome. Below 0.05 is improbable."),
    )  # fmt: skip

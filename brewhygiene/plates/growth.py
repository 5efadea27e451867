"""The count of a plate's dishes, in CFU and in words."""

import dataclasses
from collections.abc import Iterable, Sequence

from brewhygiene.plates.models import DishCount, Plate, PlateState
from brewhygiene.quantities.words import counted
from brewhygiene.science.counting.colonies import (
    ColonyCount,
    Dish,
    Kind,
    colony_count,
    swab_factor,
    two_figures,
)
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.working import shown

PER_ML = "CFU per mL"
PER_AREA = "CFU per 100 cm²"
CONFIDENCE = "95 %"


@dataclasses.dataclass(frozen=True)
class Growth:
    """CFU in ``unit``, with ``low`` and ``high`` where they are known, and the same in words.

    ``value`` is ``None`` where none was found, or too many; ``words`` then give the bound.
    """

    kind: Kind
    unit: str
    value: float | None
    low: float
    high: float | None
    words: str
    note: str


def dishes_of(plate: Plate) -> list[DishCount]:
    """The dishes of the current reading. No query where the plate came with them, else 1."""
    known: list[DishCount] | None = getattr(plate, "standing_dishes", None)
    if known is None:
        known = list(plate.dishes.filter(replaced_by__isnull=True))
    return known


def growth_of(plate: Plate) -> Growth | None:
    """The count of the dishes, or ``None`` where none was recorded with its volume.

    No query where the plate came with its dishes, else 1.
    """
    if plate.state == PlateState.PENDING:
        return None
    return growth_from(
        as_dishes(dishes_of(plate)), suspension_ml=plate.suspension_ml, area_cm2=plate.area_cm2
    )


def growth_from(
    dishes: Sequence[Dish], *, suspension_ml: float | None, area_cm2: float | None
) -> Growth | None:
    """The count of ``dishes``, or ``None`` for none; by area where mL and cm² are given."""
    if not dishes:
        return None
    try:
        found = colony_count(dishes=dishes)
    except OutOfRange:
        # The action refuses such dishes; anything else is not shown.
        return None
    return _growth(found, suspension_ml=suspension_ml, area_cm2=area_cm2)


def as_dishes(dishes: Iterable[DishCount]) -> list[Dish]:
    return [Dish(d.dilution, d.volume_ml, d.colonies) for d in dishes]


def figures(value: float) -> str:
    """Two significant figures, as colonies are reported."""
    return shown(two_figures(value=value), significant=3)


def _growth(found: ColonyCount, *, suspension_ml: float | None, area_cm2: float | None) -> Growth:
    factor, unit, where = 1.0, PER_ML, ""
    if suspension_ml is not None and area_cm2 is not None:
        factor = swab_factor(suspension_ml=suspension_ml, area_cm2=area_cm2)
        unit, where = PER_AREA, " of the swab's liquid"
    low = found.low_per_ml * factor
    value = None if found.per_ml is None else found.per_ml * factor
    high = None if found.high_per_ml is None else found.high_per_ml * factor
    return Growth(
        kind=found.kind,
        unit=unit,
        value=value,
        low=low,
        high=high,
        words=_words(found, unit, value, low, high, where=where),
        note=found.says if found.kind != "none_found" else "",
    )


def _words(
    found: ColonyCount,
    unit: str,
    value: float | None,
    low: float,
    high: float | None,
    *,
    where: str,
) -> str:
    if value is not None and high is not None:
        about = "about " if found.kind == "estimated" else ""
        return f"{about}{figures(value)} {unit} ({figures(low)} to {figures(high)})"
    if found.kind == "none_found" and high is not None:
        return (
            f"none found in {shown(found.amount_ml, significant=3)} mL{where}: "
            f"below {figures(high)} {unit} with {CONFIDENCE} confidence"
        )
    if high is not None:
        return f"too many to count: between {figures(low)} and {figures(high)} {unit}"
    return f"too many to count: more than {figures(low)} {unit}"


def dish_words(dishes: Sequence[DishCount]) -> list[str]:
    """Each dish as it was counted, for a list."""
    return [
        (
            "too many to count"
            if dish.colonies is None
            else counted(dish.colonies, "colony", "colonies")
        )
        + f" on {shown(dish.volume_ml, significant=4)} mL"
        + (f", diluted {shown(dish.dilution, significant=10)} times" if dish.dilution > 1 else "")
        for dish in dishes
    ]

"""What somebody saw on a plate: checked, and kept dish by dish."""

import dataclasses
from collections.abc import Sequence
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.ledger.recording import Actor
from brewhygiene.plates.models import DishCount, Plate, PlateState
from brewhygiene.refusals import Refusal
from brewhygiene.science.counting.colonies import Dish, colony_count
from brewhygiene.science.errors import OutOfRange

MOST_DISHES = 24


@dataclasses.dataclass(frozen=True)
class Seen:
    """A reading that can be: ``colonies`` is ``None`` where there were too many everywhere."""

    state: str
    colonies: int | None
    organism: str
    dishes: tuple[Dish, ...]


def what_was_seen(
    *,
    state: str,
    colonies: int | None,
    too_many: bool,
    organism: str,
    dishes: Sequence[Dish],
) -> Seen:
    """A reading from what was typed; refuses one that contradicts itself."""
    organism = organism.strip()[:100]
    if dishes:
        return _from_dishes(state, organism, dishes)
    if state not in (PlateState.NEGATIVE, PlateState.POSITIVE):
        raise Refusal("Say negative or positive.", field="state")
    if too_many and colonies:
        raise Refusal("Either a number, or too many to count.", field="colonies")
    if state == PlateState.POSITIVE and not colonies and not too_many:
        raise Refusal("How many colonies? A positive plate has at least one.", field="colonies")
    if state == PlateState.NEGATIVE and (colonies or too_many):
        raise Refusal("A plate with colonies is positive.", field="state")
    if state == PlateState.NEGATIVE:
        colonies = 0
    return Seen(state, None if too_many else colonies, organism, ())


def _from_dishes(state: str, organism: str, dishes: Sequence[Dish]) -> Seen:
    if len(dishes) > MOST_DISHES:
        raise Refusal(f"At most {MOST_DISHES} dishes are one plate.")
    grew = any(dish.colonies is None or dish.colonies > 0 for dish in dishes)
    if state == PlateState.NEGATIVE and grew:
        raise Refusal("A plate with colonies is positive.", field="state")
    if state == PlateState.POSITIVE and not grew:
        raise Refusal(
            "Every dish is empty, and that is negative. How many colonies did you see?",
            field="colonies",
        )
    try:
        colony_count(dishes=dishes)
    except OutOfRange as refused:
        raise Refusal(str(refused), field="colonies") from refused
    counted = [dish.colonies for dish in dishes if dish.colonies is not None]
    return Seen(
        PlateState.POSITIVE if grew else PlateState.NEGATIVE,
        # Nothing counted but overfull dishes is no number at all.
        sum(counted) if any(counted) or not grew else None,
        organism,
        tuple(dishes),
    )


def refuse_early(plate: Plate, seen: Seen, *, by: Actor) -> None:
    """Refuse a negative before its day. 1 query."""
    early = brewery_day(by.now, Brewery.current()) < plate.due_on
    if seen.state == PlateState.NEGATIVE and early:
        raise Refusal(
            f"It is not due before {plate.due_on:%d %B}: a slow grower may still show.",
            field="state",
            code="too_early",
        )


def keep_dishes(plate: Plate, seen: Seen) -> None:
    DishCount.objects.bulk_create(
        DishCount(
            plate=plate, dilution=dish.dilution, volume_ml=dish.volume_ml, colonies=dish.colonies
        )
        for dish in seen.dishes
    )


def dish_values(seen: Seen) -> dict[str, Any]:
    """The dishes for the ledger, where there are any."""
    if not seen.dishes:
        return {}
    return {"dishes": [dataclasses.asdict(dish) for dish in seen.dishes]}

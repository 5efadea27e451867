"""What was seen on a plate: checked, and stored dish by dish."""

import dataclasses
from collections.abc import Sequence
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.ledger.recording import Actor
from brewhygiene.plates.models import DishCount, Plate, PlateState
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.style import shown_moment, told
from brewhygiene.refusals import Refusal
from brewhygiene.science.counting.colonies import Dish, colony_count
from brewhygiene.science.errors import OutOfRange

MOST_DISHES = 24
NUMBER_OR_TOO_MANY = "Enter a number or tick “too many to count”, not both."


@dataclasses.dataclass(frozen=True)
class Seen:
    """A consistent reading: ``colonies`` is ``None`` where every dish had too many."""

    state: str
    colonies: int | None
    organism: str
    dishes: tuple[Dish, ...]


def checked_reading(
    *,
    state: str,
    colonies: int | None,
    too_many: bool,
    organism: str,
    dishes: Sequence[Dish],
) -> Seen:
    """A reading from what was entered; refuses one that contradicts itself."""
    organism = organism.strip()[:100]
    if dishes:
        return _from_dishes(state, organism, dishes)
    if state not in (PlateState.NEGATIVE, PlateState.POSITIVE):
        raise Refusal("Choose negative or positive.", field="state")
    if too_many and colonies:
        raise Refusal(NUMBER_OR_TOO_MANY, field="colonies")
    if state == PlateState.POSITIVE and not colonies and not too_many:
        raise Refusal("Enter the number of colonies, at least 1.", field="colonies")
    if state == PlateState.NEGATIVE and (colonies or too_many):
        raise Refusal("Choose positive: there are colonies.", field="state")
    if state == PlateState.NEGATIVE:
        colonies = 0
    return Seen(state, None if too_many else colonies, organism, ())


def _from_dishes(state: str, organism: str, dishes: Sequence[Dish]) -> Seen:
    if len(dishes) > MOST_DISHES:
        raise Refusal(f"Enter at most {MOST_DISHES} dishes.")
    grew = any(dish.colonies is None or dish.colonies > 0 for dish in dishes)
    if state == PlateState.NEGATIVE and grew:
        raise Refusal("Choose positive: there are colonies.", field="state")
    if state == PlateState.POSITIVE and not grew:
        raise Refusal(
            "Enter the number of colonies, or choose negative. Every dish has 0.",
            field="colonies",
        )
    try:
        colony_count(dishes=dishes)
    except OutOfRange as refused:
        raise Refusal(str(refused), field="colonies") from refused
    counted = [dish.colonies for dish in dishes if dish.colonies is not None]
    return Seen(
        PlateState.POSITIVE if grew else PlateState.NEGATIVE,
        # Without a counted dish there is no number.
        sum(counted) if any(counted) or not grew else None,
        organism,
        tuple(dishes),
    )


def refuse_early(plate: Plate, seen: Seen, *, by: Actor) -> None:
    """Refuse a negative before its day. 1 query."""
    early = brewery_day(by.now, Brewery.current()) < plate.due_on
    if seen.state == PlateState.NEGATIVE and early:
        with told():
            raise Refusal(
                f"Record a negative from {shown_moment(plate.due_on, 'j F')} on. Slow growers may "
                "still appear.",
                field="state",
                code="too_early",
            )


def store_dishes(plate: Plate, seen: Seen, *, source: ValueSource) -> None:
    DishCount.objects.bulk_create(
        DishCount(
            plate=plate,
            dilution=dish.dilution,
            volume_ml=dish.volume_ml,
            colonies=dish.colonies,
            source=source,
        )
        for dish in seen.dishes
    )


def dish_values(seen: Seen) -> dict[str, Any]:
    """The dishes for the ledger, where there are any."""
    if not seen.dishes:
        return {}
    return {"dishes": [dataclasses.asdict(dish) for dish in seen.dishes]}

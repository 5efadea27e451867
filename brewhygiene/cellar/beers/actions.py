"""Actions on beers."""

from typing import TypedDict, Unpack

from brewhygiene.cellar.allergens import in_order
from brewhygiene.cellar.models import Beer
from brewhygiene.ledger.changes import change, refuse_invalid, values_of
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal

KEPT = [
    "name",
    "sour_or_mixed",
    "diastatic",
    "fruit_or_heavy_hops",
    "allergens",
    "allergen",
    "strict_before",
    "active",
]


# What a vessel carries after it, how strong a clean it asks for, and what a release stops at.
RULED_BY = frozenset({"allergens", "sour_or_mixed", "diastatic", "strict_before"})


class BeerValues(TypedDict, total=False):
    """What a beer asks of the cleans around it, and whether it is still brewed."""

    sour_or_mixed: bool
    diastatic: bool
    fruit_or_heavy_hops: bool
    allergens: list[str]
    allergen: str
    strict_before: bool
    active: bool


def _check(beer: Beer) -> None:
    """Refuse what no beer can be. 1 query."""
    try:
        beer.allergens = in_order(beer.allergens)
    except ValueError as error:
        raise Refusal(
            "Choose from the list of allergens.", field="allergens", code="invalid"
        ) from error
    refuse_invalid(beer)
    others = Beer.objects.exclude(pk=beer.pk).values_list("name", flat=True)
    if beer.name.casefold() in {name.casefold() for name in others}:
        raise Refusal(
            "Another beer has this name. Enter a different name.", field="name", code="taken"
        )


@action("add beer")
def add_beer(*, by: Actor, name: str, **more: Unpack[BeerValues]) -> Recorded[Beer]:
    """Add a beer, with what it asks of the cleans before and after it."""
    require(by, "edit_setup")
    beer = Beer(name=name.strip(), **more)
    _check(beer)
    beer.save(force_insert=True)
    return Recorded(beer, values_of(beer, KEPT))


@action("edit beer")
def edit_beer(
    *, by: Actor, beer: Beer, name: str, password: str = "", **more: Unpack[BeerValues]
) -> Recorded[Beer]:
    """Edit a beer; regimes proposed from now on follow it.

    What a release stops at changes only with the password.
    """
    require(by, "edit_setup")
    beer = Beer.objects.select_for_update().get(pk=beer.pk)
    changed = change(beer, name=name.strip(), **more)
    if RULED_BY & changed["after"].keys():
        sign(by=by, password=password, meaning=f"Changed what {beer} asks of cleans"[:200])
    _check(beer)
    beer.save()
    return Recorded(beer, changed)

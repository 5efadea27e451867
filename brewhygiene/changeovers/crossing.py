"""What may not meet: a beer and an allergen that it does not declare, mixed cultures and others.

Called inside actions that fill, transfer, pitch, crop and package.
"""

from collections.abc import Sequence
from datetime import datetime

from brewhygiene.cellar.allergens import words_of
from brewhygiene.cellar.cultures import CultureUse, forbids
from brewhygiene.cellar.models import Beer, Vessel
from brewhygiene.changeovers.carried import carried_by, undeclared
from brewhygiene.refusals import Refusal


def refuse_culture(gear: Vessel, *, mixed: bool, what: str, field: str) -> None:
    """Refuse gear whose tag keeps ``what`` out of it. 0 queries."""
    if not forbids(gear.culture_use, mixed=mixed):
        return
    tag = CultureUse(gear.culture_use).label
    kind = "is a mixed culture" if mixed else "is not a mixed culture"
    raise Refusal(
        f"{gear.name} is tagged {tag}, and {what} {kind}. Choose other gear.",
        field=field,
        code="culture",
    )


def crossings(beer: Beer, gear: Sequence[Vessel], *, until: datetime) -> list[tuple[Vessel, str]]:
    """Each piece of gear that carries what a beer does not declare, in words. 4 queries."""
    carried = carried_by(gear, until=until)
    found = []
    for one in gear:
        crossing = undeclared(carried[one.pk], beer)
        if crossing:
            whose = " and ".join(dict.fromkeys(carried[one.pk][code].beer for code in crossing))
            found.append((one, f"{words_of(crossing)} of {whose}"))
    return found


def refuse_crossing(
    beer: Beer,
    *,
    until: datetime,
    into: Vessel | None = None,
    through: Sequence[Vessel] = (),
    mixed: bool | None = None,
    field: str = "beer",
) -> None:
    """Refuse gear of another culture, or with an allergen that a beer does not declare.

    ``into`` is told beside ``field``, what it goes through beside ``through``. ``mixed`` is said
    where it is not the beer itself that goes through, but its yeast. 4 queries.
    """
    mixed = beer.sour_or_mixed if mixed is None else mixed
    gear = ([into] if into is not None else []) + list(through)
    for one in gear:
        refuse_culture(one, mixed=mixed, what=beer.name, field=field if one is into else "through")
    for one, what in crossings(beer, gear, until=until):
        raise Refusal(
            f"{one.name} carries {what}, and {beer.name} does not declare it. Run a validated "
            "changeover and record a negative allergen test, or choose other gear.",
            field=field if one is into else "through",
            code="allergen",
        )


def refuse_mixing(source: Beer, target: Beer, *, what: str, field: str) -> None:
    """Refuse to put ``what`` of one beer into another that may not have it. 0 queries."""
    crossing = undeclared(source.allergens, target)
    if crossing:
        raise Refusal(
            f"{what} is of {source.name} with {words_of(crossing)}, and {target.name} does not "
            "declare it. Choose another, or edit the allergens of the beer.",
            field=field,
            code="allergen",
        )
    if source.sour_or_mixed and not target.sour_or_mixed:
        raise Refusal(
            f"{what} is of {source.name}, a mixed culture, and {target.name} is not. Choose "
            "another.",
            field=field,
            code="culture",
        )

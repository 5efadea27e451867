"""What a vessel, a hose or other gear carries: the allergens since their last proved changeover.

Calculated from what went through it and from its tests, never typed in.
"""

import dataclasses
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime

from django.db.models import Exists, Max, OuterRef, Q

from brewhygiene.cellar.allergens import in_order
from brewhygiene.cellar.models import Beer, Emptying, Fill, Vessel
from brewhygiene.changeovers.models import AllergenTest, Finding, Validation
from brewhygiene.changeovers.questions import last_passes


@dataclasses.dataclass(frozen=True)
class Pass:
    """A beer that was in something, or went through it."""

    beer: str
    allergens: Collection[str]
    at: datetime


@dataclasses.dataclass(frozen=True)
class AfterClean:
    """A test for an allergen after a clean, and whether the clean was validated against it."""

    clean: int
    cleaned_at: datetime
    allergen: str
    negative: bool
    validated: bool


@dataclasses.dataclass(frozen=True)
class Carried:
    """An allergen that something carries, and the beer that it is from."""

    allergen: str
    beer: str
    since: datetime


def proved_at(tests: Iterable[AfterClean]) -> dict[str, datetime]:
    """By allergen the last clean that was a proved changeover.

    The clean was validated against it, and every test after it was negative: one that is positive
    stands, whatever is tested afterwards, until the next clean.
    """
    by_clean: dict[tuple[int, str], list[AfterClean]] = defaultdict(list)
    for test in tests:
        by_clean[test.clean, test.allergen].append(test)
    found: dict[str, datetime] = {}
    for (_, allergen), several in by_clean.items():
        if all(test.negative and test.validated for test in several):
            at = several[0].cleaned_at
            found[allergen] = max(at, found.get(allergen, at))
    return found


def still_carried(passes: Iterable[Pass], tests: Iterable[AfterClean]) -> dict[str, Carried]:
    """By allergen, in the order of the list, what no proved changeover has taken away since."""
    last: dict[str, Carried] = {}
    for one in passes:
        for allergen in one.allergens:
            known = last.get(allergen)
            if known is None or one.at > known.since:
                last[allergen] = Carried(allergen, one.beer, one.at)
    proved = proved_at(tests)
    return {
        allergen: last[allergen]
        for allergen in in_order(last)
        if allergen not in proved or proved[allergen] <= last[allergen].since
    }


def undeclared(carried: Iterable[str], beer: Beer) -> list[str]:
    """What is carried and what a beer does not declare."""
    return in_order(set(carried) - set(beer.allergens))


def _standing() -> Exists:
    """Whether a version was validated against the allergen of a test when its clean ended."""
    return Exists(
        Validation.objects.filter(
            Q(retired_at__isnull=True) | Q(retired_at__gt=OuterRef("clean__finished_at")),
            version=OuterRef("clean__version"),
            allergen=OuterRef("allergen"),
            signed_at__lte=OuterRef("clean__finished_at"),
        )
    )


def carried_by(
    vessels: Collection[Vessel], *, until: datetime | None = None
) -> Mapping[int, Mapping[str, Carried]]:
    """By vessel what it carries, or carried at ``until``. 4 queries, however many vessels."""
    beers = {beer.pk: beer for beer in Beer.objects.all() if beer.allergens}
    # A key that no row has keeps the number of queries the same where there is none.
    beer_keys, keys = [*beers, 0], [*(vessel.pk for vessel in vessels), 0]
    filled = Fill.objects.filter(vessel__in=keys, beer__in=beer_keys).order_by()
    emptied = Emptying.objects.filter(vessel__in=keys, beer__in=beer_keys).order_by()
    tests = AllergenTest.objects.filter(clean__turnaround__vessel__in=keys)
    if until is not None:
        filled = filled.filter(filled_at__lte=until)
        emptied = emptied.filter(emptied_at__lte=until)
        tests = tests.filter(taken_at__lte=until)
    passes: dict[int, list[Pass]] = defaultdict(list)
    contained = (
        filled.values_list("vessel", "beer")
        .annotate(at=Max("filled_at"))
        .union(emptied.values_list("vessel", "beer").annotate(at=Max("emptied_at")), all=True)
    )
    for vessel, beer, at in [*contained, *last_passes(keys, beer_keys, until)]:
        passes[vessel].append(Pass(beers[beer].name, beers[beer].allergens, at))
    tested: dict[int, list[AfterClean]] = defaultdict(list)
    for vessel, clean, cleaned_at, allergen, result, validated in tests.values_list(
        "clean__turnaround__vessel",
        "clean",
        "clean__finished_at",
        "allergen",
        "result",
        _standing(),
    ):
        negative = result == Finding.NEGATIVE
        tested[vessel].append(AfterClean(clean, cleaned_at, allergen, negative, validated))
    return {vessel.pk: still_carried(passes[vessel.pk], tested[vessel.pk]) for vessel in vessels}

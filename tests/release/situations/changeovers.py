"""What a vessel carries in a situation, and what the next beer declares."""

from datetime import date, datetime, timedelta

from brewhygiene.cellar.models import Beer
from brewhygiene.changeovers.carried import Carried
from brewhygiene.changeovers.models import AllergenTest, Finding, HowTested, Validation
from brewhygiene.changeovers.turnaround import Changeover
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.turnarounds.progress import CleanProgress
from tests.release.situations.words import EMPTIED, Other

DAY = timedelta(days=1)


def changeover_in(words: Other, cleans: list[CleanProgress], now: datetime) -> Changeover:
    """Of the words: carries milk, next beer plain, next beer with milk, validated, milk tests."""
    next_beer = None
    if words.has("next beer plain"):
        next_beer = Beer(name="Pale", allergens=[])
    elif words.has("next beer with milk"):
        next_beer = Beer(name="Custard", allergens=["milk"])
    carried = {}
    if words.has("carries milk"):
        carried = {"milk": Carried("milk", "Stout", EMPTIED)}
    clean = cleans[-1].clean if cleans else None
    result = words.value(r"milk test (positive|negative)")
    tests = []
    if result is not None and clean is not None:
        tests = [
            AllergenTest(
                clean=clean,
                allergen="milk",
                kind=HowTested.STRIP,
                lot="A1",
                expires_on=date(2027, 1, 31),
                result=Finding(result),
                source=ValueSource.READ,
                taken_at=now,
            )
        ]
    signed = words.value(r"validated (before|too late|retired)")
    validations = []
    if signed is not None and clean is not None and clean.finished_at is not None:
        ended = clean.finished_at
        validations = [
            Validation(
                version=clean.version,
                allergen="milk",
                validated_on=date(2026, 1, 5),
                report="R 7",
                tests=3,
                signed_at=ended + timedelta(seconds=1) if signed == "too late" else ended - DAY,
                retired_at=ended if signed == "retired" else None,
            )
        ]
    return Changeover(next_beer, carried, tests, validations)

"""What something carries: last pass against last proved changeover, as pure functions."""

from datetime import UTC, datetime, timedelta

import pytest

from brewhygiene.cellar.models import Beer
from brewhygiene.changeovers.carried import (
    AfterClean,
    Carried,
    Pass,
    proved_at,
    still_carried,
    undeclared,
)

START = datetime(2026, 3, 1, 8, 0, tzinfo=UTC)


def at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def passed(hours: float, *allergens: str, beer: str = "Stout") -> Pass:
    return Pass(beer, allergens, at(hours))


def shown(
    hours: float,
    *,
    clean: int = 1,
    allergen: str = "milk",
    negative: bool = True,
    valid: bool = True,
) -> AfterClean:
    return AfterClean(clean, at(hours), allergen, negative, valid)


def test_nothing_passed_nothing_carried() -> None:
    assert still_carried([], [shown(1)]) == {}


def test_last_beer_with_it_is_named() -> None:
    passes = [passed(5, "milk", beer="Custard"), passed(1, "milk"), passed(7, beer="Pale")]
    assert still_carried(passes, []) == {"milk": Carried("milk", "Custard", at(5))}


def test_beers_without_it_do_not_take_it_away() -> None:
    assert list(still_carried([passed(1, "milk"), passed(9)], [])) == ["milk"]


def test_carried_stand_in_the_order_of_the_list() -> None:
    assert list(still_carried([passed(1, "nuts"), passed(2, "milk")], [])) == ["milk", "nuts"]


@pytest.mark.parametrize(
    "tests, carried",
    [
        ([shown(2)], False),
        ([shown(2, valid=False)], True),
        ([shown(2, negative=False)], True),
        ([shown(2, allergen="nuts")], True),
        # In the same moment is not after it.
        ([shown(1)], True),
        ([shown(0.5)], True),
        # A positive one stands, before and after a negative one of the same clean.
        ([shown(2), shown(2, negative=False)], True),
        ([shown(2, negative=False), shown(2)], True),
        # Until the next clean.
        ([shown(2, negative=False), shown(3, clean=2)], False),
        ([shown(2), shown(3, clean=2, negative=False)], False),
        ([shown(2), shown(2)], False),
    ],
)
def test_only_a_proved_changeover_takes_it_away(tests: list[AfterClean], carried: bool) -> None:
    assert ("milk" in still_carried([passed(1, "milk")], tests)) is carried


def test_each_allergen_has_its_own_proof() -> None:
    found = still_carried([passed(1, "milk", "nuts")], [shown(2)])
    assert list(found) == ["nuts"]


def test_latest_proof_counts_whatever_the_order() -> None:
    assert proved_at([shown(4, clean=2), shown(2)]) == {"milk": at(4)}
    assert proved_at([shown(2), shown(4, clean=2)]) == {"milk": at(4)}


def test_next_beer_takes_what_it_declares() -> None:
    assert undeclared(["nuts", "milk"], Beer(name="Pale", allergens=["milk"])) == ["nuts"]
    assert undeclared(["nuts", "milk"], Beer(name="Pale", allergens=["milk", "nuts"])) == []

"""Signing and retiring a validation, and recording a test: what each refuses."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pytest

from brewhygiene.changeovers import actions
from brewhygiene.changeovers.models import AllergenTest, Validation
from brewhygiene.ledger.models import Entry
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes.queries import was_ever_used
from tests.changeovers.scenes import Dairy
from tests.factories import PASSWORD, acting, make_version

DAY = date(2026, 3, 10)


def test_validation_is_signed_and_told(house: Dairy) -> None:
    made = house.validated(0)
    assert made.signature.meaning == f"Validated {house.version} against milk, lactose included"
    entry = Entry.objects.latest("number")
    assert (entry.verb, entry.values["tests"]) == ("validate changeover", 3)
    assert entry.values["report"] == "R 7, in the laboratory's folder"


@pytest.mark.parametrize(
    "wrong, field",
    [
        ({"allergen": "coriander"}, "allergen"),
        ({"allergen": ""}, "allergen"),
        ({"validated_on": DAY + timedelta(days=1)}, "validated_on"),
        ({"report": " "}, "report"),
        ({"tests": 2}, "tests"),
        ({"tests": 1001}, "tests"),
        ({"password": ""}, "password"),
        ({"password": "guessed"}, "password"),
    ],
)
def test_validation_refuses(house: Dairy, wrong: dict[str, Any], field: str) -> None:
    with pytest.raises(Refusal) as refused:
        house.validated(0, **wrong)
    assert refused.value.field == field
    assert not Validation.objects.exists()


@pytest.mark.parametrize("tests", [3, 1000])
def test_validation_takes_both_ends_of_its_tests_on_the_day_itself(
    house: Dairy, tests: int
) -> None:
    assert house.validated(0, tests=tests, validated_on=DAY).tests == tests


def test_validation_is_of_a_clean_in_force(house: Dairy) -> None:
    old, retired = make_version(), make_version()
    old.current = False
    old.save()
    retired.regime.active = False
    retired.regime.save()
    codes = []
    for version in (house.resanitise_version, old, retired):
        with pytest.raises(Refusal) as refused:
            house.validated(0, version=version)
        assert refused.value.field == "version"
        codes.append(refused.value.code)
    assert codes == ["no_clean", "not_current", "not_current"]


def test_validation_stands_once(house: Dairy) -> None:
    first = house.validated(0)
    house.validated(0, allergen="nuts")
    with pytest.raises(Refusal) as refused:
        house.validated(1)
    assert (refused.value.field, refused.value.code) == ("allergen", "twice")
    actions.retire_validation(
        by=acting(house.brewer, now=house.at(2)),
        validation=first,
        reason="Positive in a later run",
        password=PASSWORD,
    )
    house.validated(3)


def test_retirement_is_signed_with_a_reason_and_once(house: Dairy) -> None:
    validation = house.validated(0)
    retire: Callable[..., Validation] = lambda **values: actions.retire_validation(  # noqa: E731
        **{
            "by": acting(house.brewer, now=house.at(1)),
            "validation": validation,
            "reason": "Positive in a later run",
            "password": PASSWORD,
            **values,
        }
    )
    for wrong, field in (({"reason": " "}, "reason"), ({"password": ""}, "password")):
        with pytest.raises(Refusal) as refused:
            retire(**wrong)
        assert refused.value.field == field
    retired = retire()
    assert retired.retired_at == house.at(1)
    assert retired.retirement is not None
    assert retired.retirement.printed_name == "Mara Oduya"
    with pytest.raises(Refusal, match="already retired"):
        retire()


def test_cellar_hand_signs_neither(house: Dairy) -> None:
    by = acting(house.hand)
    validation = house.validated(0)
    with pytest.raises(NotAllowed):
        house.validated(0, by=by, allergen="nuts")
    with pytest.raises(NotAllowed):
        actions.retire_validation(by=by, validation=validation, reason="Because", password=PASSWORD)


def test_owner_records_no_test(house: Dairy) -> None:
    turnaround = house.had_stout()
    with pytest.raises(NotAllowed):
        house.tested(turnaround, 11, by=acting(house.owner, now=house.at(11)))


def test_validated_version_is_never_changed_in_place(house: Dairy) -> None:
    version = make_version()
    assert not was_ever_used(version.regime)
    house.validated(0, version=version)
    assert was_ever_used(version.regime)


def test_test_is_of_the_last_clean_and_was_read(house: Dairy) -> None:
    turnaround = house.had_stout()
    turnaround.refresh_from_db()
    before = turnaround.revision
    house.run(house.started(turnaround, now=house.at(11)), now=house.at(11))
    made = house.tested(turnaround, 12, lot=" A1 ", note="Racking arm")
    assert made.clean == turnaround.cleans.last()
    assert (made.source, made.lot, made.recorded_by) == (ValueSource.READ, "A1", house.hand)
    entry = Entry.objects.latest("number")
    assert (entry.values["result"], entry.values["source"]) == ("negative", "read")
    turnaround.refresh_from_db()
    assert turnaround.revision > before + 1


@pytest.mark.parametrize(
    "wrong, field",
    [
        ({"allergen": "coriander"}, "allergen"),
        ({"kind": "atp"}, "kind"),
        ({"result": "unclear"}, "result"),
        ({"lot": " "}, "lot"),
        ({"expires_on": DAY - timedelta(days=1)}, "expires_on"),
    ],
)
def test_test_refuses(house: Dairy, wrong: dict[str, Any], field: str) -> None:
    turnaround = house.had_stout()
    with pytest.raises(Refusal) as refused:
        house.tested(turnaround, 11, **wrong)
    assert refused.value.field == field
    assert not AllergenTest.objects.exists()


def test_test_is_in_date_on_its_last_day(house: Dairy) -> None:
    house.tested(house.had_stout(), 11, expires_on=DAY)


def test_test_is_taken_after_the_clean_and_not_in_the_future(house: Dairy) -> None:
    turnaround = house.had_stout()
    ended = turnaround.cleans.get().finished_at
    for moment in (ended - timedelta(minutes=1), house.at(12)):
        with pytest.raises(Refusal) as refused:
            house.tested(turnaround, 11, taken_at=moment)
        assert refused.value.field == "taken_at"
    assert house.tested(turnaround, 11, taken_at=ended).taken_at == ended


def test_test_waits_for_the_clean(house: Dairy) -> None:
    turnaround = house.emptied(now=house.at(0))
    with pytest.raises(Refusal) as refused:
        house.tested(turnaround, 1)
    assert refused.value.code == "no_clean"
    clean = house.started(turnaround, now=house.at(1))
    with pytest.raises(Refusal) as refused:
        house.tested(turnaround, 2)
    assert refused.value.code == "no_clean"
    house.run(clean, now=house.at(2))
    house.tested(turnaround, 3)
    # While the next one runs, what was tested is no longer the last clean.
    house.started(turnaround, now=house.at(4))
    with pytest.raises(Refusal):
        house.tested(turnaround, 5)

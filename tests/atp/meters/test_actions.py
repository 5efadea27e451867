"""The verbs that set up meters, swabs and lots."""

import dataclasses
from datetime import date
from typing import Any

import pytest

from brewhygiene.atp.meters import actions as setup_actions
from brewhygiene.atp.meters.actions import AtpTestLotValues, AtpTestValues, MeterValues
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, Meter
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import (
    Cellar,
    acting,
    make_atp_test,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
    make_test_lot,
)

pytestmark = pytest.mark.django_db

METER = MeterValues(
    name="Cellar meter",
    serial="C-1",
    blank_max_rlu=5,
    positive_min_rlu=100,
    positive_max_rlu=400,
    scale_note="Whole numbers",
)
SWAB = AtpTestValues(name="Rinse sampler", sample_kind="rinse", storage="2 to 8 °C")


@pytest.fixture
def brewer() -> User:
    make_brewery()
    return make_head_brewer()


def lot_of(atp_test: AtpTest, **values: Any) -> AtpTestLotValues:
    return AtpTestLotValues(
        atp_test=atp_test, **{"lot": "A1", "expires_on": date(2026, 9, 1), **values}
    )


@pytest.mark.parametrize("who", [make_cellar_hand, make_owner])
def test_set_up_is_refused_to_other_roles(who: Any) -> None:
    by = acting(who())
    atp_test = make_atp_test()
    for call in (
        lambda: setup_actions.save_meter(by=by, values=METER),
        lambda: setup_actions.save_atp_test(by=by, values=SWAB),
        lambda: setup_actions.save_test_lot(by=by, values=lot_of(atp_test)),
    ):
        with pytest.raises(NotAllowed):
            call()
    assert (Meter.objects.count(), AtpTestLot.objects.count(), Entry.objects.count()) == (0, 0, 0)


def test_meter_is_added_with_all_it_is(brewer: User) -> None:
    meter = setup_actions.save_meter(by=acting(brewer), values=METER)
    meter.refresh_from_db()
    assert {name: getattr(meter, name) for name in vars(METER)} == vars(METER)
    assert Entry.objects.get().values["after"]["positive_max_rlu"] == 400


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": " "}, "name"),
        ({"serial": ""}, "serial"),
        ({"blank_max_rlu": 100}, "blank_max_rlu"),
        ({"blank_max_rlu": -1}, "blank_max_rlu"),
        ({"positive_max_rlu": 100}, "positive_max_rlu"),
        ({"positive_max_rlu": 10_000_000}, "positive_max_rlu"),
    ],
)
def test_meter_that_makes_no_sense_is_refused(
    brewer: User, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        setup_actions.save_meter(by=acting(brewer), values=dataclasses.replace(METER, **change))
    assert (refused.value.field, Meter.objects.count()) == (field, 0)


@pytest.mark.parametrize(
    ("change", "field"), [({"serial": "X"}, "name"), ({"name": "X"}, "serial")]
)
def test_meter_name_and_serial_are_taken_once(
    brewer: User, change: dict[str, str], field: str
) -> None:
    setup_actions.save_meter(by=acting(brewer), values=METER)
    twin = dataclasses.replace(METER, name="CELLAR METER", serial="c-1")
    with pytest.raises(Refusal) as refused:
        setup_actions.save_meter(by=acting(brewer), values=dataclasses.replace(twin, **change))
    assert (refused.value.field, refused.value.code) == (field, "taken")


def test_meter_without_readings_may_get_another_serial(brewer: User) -> None:
    meter = setup_actions.save_meter(by=acting(brewer), values=METER)
    changed = dataclasses.replace(METER, serial="C-2")
    assert setup_actions.save_meter(by=acting(brewer), values=changed, meter=meter).serial == "C-2"


def test_meter_with_readings_keeps_its_serial() -> None:
    cellar = Cellar()
    cellar.checked()
    values = MeterValues(**{n: getattr(cellar.meter, n) for n in vars(METER)})
    with pytest.raises(Refusal) as refused:
        setup_actions.save_meter(
            by=acting(cellar.brewer),
            values=dataclasses.replace(values, serial="another"),
            meter=cellar.meter,
        )
    assert (refused.value.field, refused.value.code) == ("serial", "meter_has_readings")


def test_meter_with_new_ranges_keeps_the_verdict_of_earlier_checks() -> None:
    cellar = Cellar()
    check = cellar.checked()
    values = MeterValues(**{n: getattr(cellar.meter, n) for n in vars(METER)})
    setup_actions.save_meter(
        by=acting(cellar.brewer),
        values=dataclasses.replace(values, positive_min_rlu=300),
        meter=cellar.meter,
    )
    check.refresh_from_db()
    assert (check.positive_rlu, check.passed) == (200, True)


def test_atp_test_is_added_and_settled_by_its_first_lot(brewer: User) -> None:
    atp_test = setup_actions.save_atp_test(by=acting(brewer), values=SWAB)
    surface = dataclasses.replace(SWAB, sample_kind="surface")
    changed = setup_actions.save_atp_test(by=acting(brewer), values=surface, atp_test=atp_test)
    assert changed.sample_kind == "surface"
    make_test_lot(atp_test)
    with pytest.raises(Refusal) as refused:
        setup_actions.save_atp_test(by=acting(brewer), values=SWAB, atp_test=atp_test)
    assert (refused.value.field, refused.value.code) == ("sample_kind", "atp_test_in_use")


@pytest.mark.parametrize(
    ("change", "field"),
    [({"name": ""}, "name"), ({"sample_kind": "air"}, "sample_kind")],
)
def test_atp_test_that_makes_no_sense_is_refused(
    brewer: User, change: dict[str, str], field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        setup_actions.save_atp_test(by=acting(brewer), values=dataclasses.replace(SWAB, **change))
    assert (refused.value.field, AtpTest.objects.count()) == (field, 0)


def test_test_lot_is_added_and_changed(brewer: User) -> None:
    atp_test = make_atp_test()
    lot = setup_actions.save_test_lot(by=acting(brewer), values=lot_of(atp_test))
    changed = setup_actions.save_test_lot(
        by=acting(brewer),
        values=lot_of(atp_test, expires_on=date(2026, 8, 1), storage_note="Was warm"),
        test_lot=lot,
    )
    assert (changed.expires_on, changed.storage_note) == (date(2026, 8, 1), "Was warm")
    assert Entry.objects.last().values["before"]["expires_on"] == "2026-09-01"


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"lot": " "}, "lot"),
        ({"received_on": date(2026, 3, 11)}, "received_on"),
        ({"received_on": date(2026, 3, 1), "expires_on": date(2026, 2, 1)}, "expires_on"),
    ],
)
def test_test_lot_that_makes_no_sense_is_refused(
    brewer: User, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        setup_actions.save_test_lot(by=acting(brewer), values=lot_of(make_atp_test(), **change))
    assert (refused.value.field, AtpTestLot.objects.count()) == (field, 0)


def test_test_lot_is_set_up_once_per_type(brewer: User) -> None:
    atp_test = make_atp_test()
    setup_actions.save_test_lot(by=acting(brewer), values=lot_of(atp_test))
    with pytest.raises(Refusal) as refused:
        setup_actions.save_test_lot(by=acting(brewer), values=lot_of(atp_test, lot="a1"))
    assert (refused.value.field, refused.value.code) == ("lot", "taken")
    setup_actions.save_test_lot(by=acting(brewer), values=lot_of(make_atp_test()))


def test_test_lot_that_was_read_keeps_its_type() -> None:
    cellar = Cellar()
    cellar.sampled(cellar.cleaned())
    with pytest.raises(Refusal) as refused:
        setup_actions.save_test_lot(
            by=acting(cellar.brewer), values=lot_of(make_atp_test()), test_lot=cellar.lot
        )
    assert (refused.value.field, refused.value.code) == ("atp_test", "lot_in_use")

"""Meters, swabs, lots and control checks at both sides of each bound."""

import dataclasses
from collections.abc import Callable
from datetime import date
from typing import Any

import pytest

from brewhygiene.atp.meters import actions
from brewhygiene.atp.meters.actions import AtpTestLotValues, AtpTestValues, MeterValues
from brewhygiene.atp.models.readings import Result
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.evidence import unguarded
from tests.factories import NOW, Cellar, acting, make_atp_test, make_limits, make_meter

METER = MeterValues(
    name="Cellar meter",
    serial="C-1",
    blank_max_rlu=5,
    positive_min_rlu=100,
    positive_max_rlu=400,
)
MOST = 9_999_999


@pytest.fixture
def cellar(db: None) -> Cellar:
    return Cellar()


def refusal_of(call: Callable[[], Any]) -> tuple[str | None, str]:
    """Field and code, having made sure that nothing was written."""
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refused:
        call()
    assert Entry.objects.count() == before
    return refused.value.field, refused.value.code


def save(cellar: Cellar, values: MeterValues = METER, **others: Any) -> Any:
    return actions.save_meter(by=acting(cellar.brewer), values=values, **others)


@pytest.mark.parametrize("field", ["blank_max_rlu", "positive_min_rlu", "positive_max_rlu"])
@pytest.mark.parametrize("rlu", [-1, MOST + 1])
def test_a_range_is_of_numbers_that_meters_show(cellar: Cellar, field: str, rlu: int) -> None:
    values = dataclasses.replace(METER, **{field: rlu})
    assert refusal_of(lambda: save(cellar, values)) == (field, "refused")


@pytest.mark.parametrize(
    "ranges, field",
    [
        ((0, 1, 2), None),
        ((5, 6, MOST), None),
        ((5, 5, 9), "blank_max_rlu"),
        ((6, 5, 9), "blank_max_rlu"),
        ((5, 9, 9), "positive_max_rlu"),
        ((5, 10, 9), "positive_max_rlu"),
    ],
)
def test_a_blank_reads_less_than_the_least_and_the_least_less_than_the_most(
    cellar: Cellar, ranges: tuple[int, int, int], field: str | None
) -> None:
    names = ("blank_max_rlu", "positive_min_rlu", "positive_max_rlu")
    values = dataclasses.replace(METER, **dict(zip(names, ranges, strict=True)))
    if field is not None:
        assert refusal_of(lambda: save(cellar, values)) == (field, "ranges")
        return
    meter = save(cellar, values)
    assert tuple(getattr(meter, name) for name in names) == ranges


def test_a_meter_is_saved_again_under_its_own_name_and_serial(cellar: Cellar) -> None:
    meter = save(cellar, dataclasses.replace(METER, name="  Cellar   meter "))
    assert (meter.name, meter.active) == ("Cellar meter", True)
    again = save(cellar, dataclasses.replace(METER, blank_max_rlu=6, active=False), meter=meter)
    meter.refresh_from_db()
    assert (again, meter.blank_max_rlu, meter.active) == (meter, 6, False)


@pytest.mark.parametrize("by_check", [True, False])
def test_a_meter_keeps_its_serial_once_it_read_a_sample_or_a_control(
    cellar: Cellar, by_check: bool
) -> None:
    cellar.sampled(cellar.cleaned())
    if by_check:
        meter = make_meter()
        cellar.checked(meter=meter)
    else:
        meter = make_meter()
        with unguarded(Result):
            cellar.meter.results.update(meter=meter)
    values = dataclasses.replace(METER, serial="C-2")
    refused = refusal_of(lambda: save(cellar, values, meter=meter))
    assert refused == ("serial", "meter_has_readings")
    assert save(cellar, dataclasses.replace(METER, serial=meter.serial), meter=meter) == meter


def swab(cellar: Cellar, values: AtpTestValues, **others: Any) -> Any:
    return actions.save_atp_test(by=acting(cellar.brewer), values=values, **others)


def test_a_swab_is_saved_once_by_name_and_again_under_its_own(cellar: Cellar) -> None:
    made = swab(cellar, AtpTestValues(name=" Rinse  sampler ", sample_kind="rinse"))
    assert made.name == "Rinse sampler"
    twin = AtpTestValues(name="RINSE SAMPLER", sample_kind="rinse")
    assert refusal_of(lambda: swab(cellar, twin)) == ("name", "taken")
    kept = AtpTestValues(name="Rinse sampler", sample_kind="rinse", storage="2 to 8 °C")
    assert swab(cellar, kept, atp_test=made).storage == "2 to 8 °C"


def test_what_a_swab_samples_is_settled_by_limits_too(cellar: Cellar) -> None:
    made = make_atp_test()
    make_limits(by=cellar.brewer, meter=cellar.meter, atp_test=made)
    other = AtpTestValues(name=made.name, sample_kind="surface")
    refused = refusal_of(lambda: swab(cellar, other, atp_test=made))
    assert refused == ("sample_kind", "atp_test_in_use")
    same = AtpTestValues(name="Another name", sample_kind="rinse")
    assert swab(cellar, same, atp_test=made).name == "Another name"


def lot(cellar: Cellar, *, test_lot: Any = None, **values: Any) -> Any:
    return actions.save_test_lot(
        by=acting(cellar.brewer),
        test_lot=test_lot,
        values=AtpTestLotValues(
            **{
                "atp_test": cellar.atp_test,
                "lot": "A1",
                "expires_on": date(2026, 9, 1),
                **values,
            }
        ),
    )


def test_a_lot_came_today_at_the_latest_and_expires_the_day_it_came_at_the_earliest(
    cellar: Cellar,
) -> None:
    today = NOW.date()
    made = lot(cellar, received_on=today, expires_on=today, storage_note=" Warm ")
    assert (made.received_on, made.expires_on, made.storage_note) == (today, today, "Warm")
    assert (made.atp_test, made.active) == (cellar.atp_test, True)
    late, early = date(2026, 3, 11), date(2026, 3, 9)
    assert refusal_of(lambda: lot(cellar, lot="B", received_on=late)) == ("received_on", "refused")
    refused = refusal_of(lambda: lot(cellar, lot="B", received_on=today, expires_on=early))
    assert refused == ("expires_on", "refused")
    assert lot(cellar, lot="B", expires_on=early).received_on is None


def test_a_lot_may_change_its_swab_until_one_of_it_was_read(cellar: Cellar) -> None:
    made, other = lot(cellar), make_atp_test()
    assert lot(cellar, test_lot=made, atp_test=other).atp_test == other
    cellar.sampled(cellar.cleaned())
    refused = refusal_of(lambda: lot(cellar, test_lot=cellar.lot, atp_test=other, lot="A3"))
    assert refused == ("atp_test", "lot_in_use")
    assert lot(cellar, test_lot=cellar.lot, lot="A2", active=False).active is False


def check(cellar: Cellar, **values: Any) -> Any:
    user = values.pop("user", cellar.hand)
    return actions.record_control_check(
        by=acting(user), **{"meter": cellar.meter, "blank_rlu": 0, "positive_rlu": 200, **values}
    )


@pytest.mark.parametrize("field", ["blank_rlu", "positive_rlu"])
def test_a_control_check_is_of_numbers_that_meters_show(cellar: Cellar, field: str) -> None:
    for rlu in (-1, MOST + 1):
        refused = refusal_of(lambda rlu=rlu: check(cellar, **{field: rlu}))
        assert refused == (field, "refused")
    assert check(cellar, **{field: MOST}).passed is False


def test_a_meter_in_use_is_checked_by_who_works_in_the_cellar(cellar: Cellar) -> None:
    with pytest.raises(NotAllowed):
        check(cellar, user=cellar.owner)
    idle = make_meter(active=False)
    assert refusal_of(lambda: check(cellar, meter=idle)) == ("meter", "refused")
    made = check(cellar, note=" Fresh control ")
    assert (made.note, made.passed, made.checked_by) == ("Fresh control", True, cellar.hand)
    assert (made.checked_at, made.checked_on) == (NOW, NOW.date())

"""Actions of meters and ATP tests: set-up and control checks."""

import dataclasses
from datetime import date

from django.db import models

from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.rlu import MAX_RLU, check_rlu
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import SampleKind
from brewhygiene.ledger.changes import change
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.refusals import Refusal


@dataclasses.dataclass(frozen=True)
class MeterValues:
    """A meter by its type plate and leaflet; ranges in RLU of its own scale."""

    name: str
    serial: str
    blank_max_rlu: int
    positive_min_rlu: int
    positive_max_rlu: int
    scale_note: str = ""
    active: bool = True


@dataclasses.dataclass(frozen=True)
class AtpTestValues:
    name: str
    sample_kind: str
    storage: str = ""
    gtin: str = ""


@dataclasses.dataclass(frozen=True)
class AtpTestLotValues:
    """A lot of ATP tests; ``expires_on`` is the last day of use."""

    atp_test: AtpTest
    lot: str
    expires_on: date
    received_on: date | None = None
    storage_note: str = ""
    active: bool = True


def _words(text: str, *, field: str, what: str) -> str:
    text = " ".join(text.split())
    if not text:
        raise Refusal(f"Enter {what}.", field=field)
    return text


def _check_free(
    taken: "models.QuerySet[models.Model]", record: models.Model | None, *, field: str, message: str
) -> None:
    if record is not None and record.pk is not None:
        taken = taken.exclude(pk=record.pk)
    if taken.exists():
        raise Refusal(message, field=field, code="taken")


def _check_ranges(values: MeterValues) -> None:
    for field in ("blank_max_rlu", "positive_min_rlu", "positive_max_rlu"):
        if not 0 <= getattr(values, field) <= MAX_RLU:
            raise Refusal(f"Enter a whole number from 0 to {MAX_RLU}.", field=field)
    if values.blank_max_rlu >= values.positive_min_rlu:
        raise Refusal(
            "Enter a blank maximum below the positive minimum.",
            field="blank_max_rlu",
            code="ranges",
        )
    if values.positive_min_rlu >= values.positive_max_rlu:
        raise Refusal("Enter a maximum above the minimum.", field="positive_max_rlu", code="ranges")


@action("save meter")
def save_meter(*, by: Actor, values: MeterValues, meter: Meter | None = None) -> Recorded[Meter]:
    """Add or edit a meter.

    The serial number is fixed by the first reading: another instrument is another meter, with
    limits of its own. Earlier control checks keep their verdict.
    """
    require(by, "edit_setup")
    if meter is not None:
        meter = Meter.objects.select_for_update().get(pk=meter.pk)
    name = _words(values.name, field="name", what="a name")
    serial = _words(values.serial, field="serial", what="the serial number")
    _check_free(
        Meter.objects.filter(name__iexact=name),
        meter,
        field="name",
        message=f"There is already a meter called {name}. Enter another name.",
    )
    _check_free(
        Meter.objects.filter(serial__iexact=serial),
        meter,
        field="serial",
        message=f"There is already a meter with serial number {serial}. Edit that meter.",
    )
    _check_ranges(values)
    if meter is None:
        meter = Meter()
    elif meter.serial != serial and (meter.results.exists() or meter.control_checks.exists()):
        raise Refusal(
            f"{meter.name} has readings, so its serial number is fixed. Add the other instrument "
            "as a new meter and retire this one.",
            field="serial",
            code="meter_has_readings",
        )
    changed = change(meter, **{**dataclasses.asdict(values), "name": name, "serial": serial})
    meter.save()
    return Recorded(meter, {"name": meter.name, **changed})


@action("save ATP test")
def save_atp_test(
    *, by: Actor, values: AtpTestValues, atp_test: AtpTest | None = None
) -> Recorded[AtpTest]:
    """Add or edit an ATP test; its kind is fixed by its first lot or limits."""
    require(by, "edit_setup")
    if atp_test is not None:
        atp_test = AtpTest.objects.select_for_update().get(pk=atp_test.pk)
    name = _words(values.name, field="name", what="a name")
    if values.sample_kind not in SampleKind.values:
        raise Refusal("Choose a kind.", field="sample_kind")
    _check_free(
        AtpTest.objects.filter(name__iexact=name),
        atp_test,
        field="name",
        message=f"There is already an ATP test called {name}. Enter another name.",
    )
    if values.gtin:
        _check_free(
            AtpTest.objects.filter(gtin=values.gtin),
            atp_test,
            field="gtin",
            message="Another ATP test has this product number.",
        )
    if atp_test is None:
        atp_test = AtpTest()
    elif atp_test.sample_kind != values.sample_kind and (
        atp_test.lots.exists() or atp_test.limits.exists()
    ):
        raise Refusal(
            f"{atp_test.name} has lots or limits, so its kind is fixed. Add the other kind as a "
            "new ATP test.",
            field="sample_kind",
            code="atp_test_in_use",
        )
    changed = change(atp_test, **{**dataclasses.asdict(values), "name": name})
    atp_test.save()
    return Recorded(atp_test, {"name": atp_test.name, **changed})


@action("save ATP test lot")
def save_test_lot(
    *, by: Actor, values: AtpTestLotValues, test_lot: AtpTestLot | None = None
) -> Recorded[AtpTestLot]:
    """Add or edit a lot; its ATP test is fixed by the first reading with it."""
    require(by, "edit_setup")
    if test_lot is not None:
        test_lot = AtpTestLot.objects.select_for_update().get(pk=test_lot.pk)
    lot = _words(values.lot, field="lot", what="the lot printed on the box")
    _check_free(
        AtpTestLot.objects.filter(atp_test=values.atp_test, lot__iexact=lot),
        test_lot,
        field="lot",
        message=f"There is already a lot {lot} of {values.atp_test.name}. Edit that lot.",
    )
    if values.received_on is not None:
        if values.received_on > brewery_day(by.now, Brewery.current()):
            raise Refusal("Enter a day up to today.", field="received_on")
        if values.expires_on < values.received_on:
            raise Refusal("Enter an expiry date after the day of receipt.", field="expires_on")
    if test_lot is None:
        test_lot = AtpTestLot(atp_test=values.atp_test)
    elif test_lot.atp_test_id != values.atp_test.pk and test_lot.results.exists():
        raise Refusal(
            "This lot has readings, so its ATP test is fixed. Add a new lot instead.",
            field="atp_test",
            code="lot_in_use",
        )
    changed = change(
        test_lot,
        atp_test=values.atp_test,
        lot=lot,
        expires_on=values.expires_on,
        received_on=values.received_on,
        storage_note=values.storage_note.strip(),
        active=values.active,
    )
    test_lot.save()
    return Recorded(test_lot, {"lot": str(test_lot), **changed})


@action("check meter")
def record_control_check(
    *, by: Actor, meter: Meter, blank_rlu: int, positive_rlu: int, note: str = ""
) -> Recorded[ControlCheck]:
    """Record a meter's blank and positive reading, in RLU; it passes or fails by its ranges."""
    user = require(by, "work_cellar")
    check_rlu(blank_rlu, field="blank_rlu")
    check_rlu(positive_rlu, field="positive_rlu")
    if not meter.active:
        raise Refusal(f"{meter.name} is retired. Choose another meter.", field="meter")
    check = ControlCheck.objects.create(
        meter=meter,
        checked_at=by.now,
        checked_on=brewery_day(by.now, Brewery.current()),
        blank_rlu=blank_rlu,
        positive_rlu=positive_rlu,
        source=ValueSource.READ,
        passed=meter.blank_within(blank_rlu) and meter.positive_within(positive_rlu),
        checked_by=user,
        note=note.strip(),
    )
    return Recorded(
        check,
        {
            "meter": meter.name,
            "blank_rlu": blank_rlu,
            "positive_rlu": positive_rlu,
            "blank_max_rlu": meter.blank_max_rlu,
            "positive_min_rlu": meter.positive_min_rlu,
            "positive_max_rlu": meter.positive_max_rlu,
            "source": check.source,
            "passed": check.passed,
            "note": check.note,
        },
    )

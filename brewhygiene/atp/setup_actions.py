"""Verbs of the set-up of meters and sticks; limits have theirs in ``actions``."""

import dataclasses
from datetime import date

from django.db import models

from brewhygiene.atp.models import MAX_RLU, Meter, StickLot, StickType
from brewhygiene.atp.queries import brewery_day
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SampleKind
from brewhygiene.ledger.changes import change
from brewhygiene.ledger.door import Actor, Written, verb
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal


@dataclasses.dataclass(frozen=True)
class MeterValues:
    """A meter as its plate and its maker's leaflet give it; ranges in RLU of its own scale."""

    name: str
    serial: str
    blank_max_rlu: int
    positive_min_rlu: int
    positive_max_rlu: int
    scale_note: str = ""
    active: bool = True


@dataclasses.dataclass(frozen=True)
class StickTypeValues:
    name: str
    sample_kind: str
    storage: str = ""


@dataclasses.dataclass(frozen=True)
class StickLotValues:
    """A box of sticks; ``expires_on`` is the last day on which one may be used."""

    stick_type: StickType
    lot: str
    expires_on: date
    received_on: date | None = None
    storage_note: str = ""
    active: bool = True


def _words(text: str, *, field: str, what: str) -> str:
    text = " ".join(text.split())
    if not text:
        raise Refusal(f"Give {what}.", field=field)
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
            raise Refusal(f"Meters show whole numbers from 0 to {MAX_RLU}.", field=field)
    if values.blank_max_rlu >= values.positive_min_rlu:
        raise Refusal(
            "A blank must read less than the positive control may.",
            field="blank_max_rlu",
            code="ranges",
        )
    if values.positive_min_rlu >= values.positive_max_rlu:
        raise Refusal(
            "The most has to be above the least.", field="positive_max_rlu", code="ranges"
        )


@verb("save meter")
def save_meter(*, by: Actor, values: MeterValues, meter: Meter | None = None) -> Written[Meter]:
    """Add a meter, or change one.

    A serial number is settled by the first reading: another instrument is another meter, with
    limits of its own. Control checks already made keep their verdict.
    """
    require(by, "edit_setup")
    if meter is not None:
        meter = Meter.objects.select_for_update().get(pk=meter.pk)
    name = _words(values.name, field="name", what="the meter a name")
    serial = _words(values.serial, field="serial", what="its serial number")
    _check_free(
        Meter.objects.filter(name__iexact=name),
        meter,
        field="name",
        message=f"There is a meter called {name} already.",
    )
    _check_free(
        Meter.objects.filter(serial__iexact=serial),
        meter,
        field="serial",
        message=f"A meter with serial number {serial} is set up already.",
    )
    _check_ranges(values)
    if meter is None:
        meter = Meter()
    elif meter.serial != serial and (meter.results.exists() or meter.control_checks.exists()):
        raise Refusal(
            f"{meter.name} has readings. Another instrument has a scale and limits of its own: add "
            "it as another meter and take this one out of use.",
            field="serial",
            code="meter_has_readings",
        )
    changed = change(meter, **{**dataclasses.asdict(values), "name": name, "serial": serial})
    meter.save()
    return Written(meter, {"name": meter.name, **changed})


@verb("save stick type")
def save_stick_type(
    *, by: Actor, values: StickTypeValues, stick_type: StickType | None = None
) -> Written[StickType]:
    """Add a kind of stick, or change one; what it samples is settled by its first lot or limits."""
    require(by, "edit_setup")
    if stick_type is not None:
        stick_type = StickType.objects.select_for_update().get(pk=stick_type.pk)
    name = _words(values.name, field="name", what="the stick a name")
    if values.sample_kind not in SampleKind.values:
        raise Refusal("Say what it samples.", field="sample_kind")
    _check_free(
        StickType.objects.filter(name__iexact=name),
        stick_type,
        field="name",
        message=f"There is a stick called {name} already.",
    )
    if stick_type is None:
        stick_type = StickType()
    elif stick_type.sample_kind != values.sample_kind and (
        stick_type.lots.exists() or stick_type.limits.exists()
    ):
        raise Refusal(
            f"{stick_type.name} has lots or limits, so what it samples is settled. Add the other "
            "stick under a name of its own.",
            field="sample_kind",
            code="stick_in_use",
        )
    changed = change(stick_type, **{**dataclasses.asdict(values), "name": name})
    stick_type.save()
    return Written(stick_type, {"name": stick_type.name, **changed})


@verb("save stick lot")
def save_stick_lot(
    *, by: Actor, values: StickLotValues, stick_lot: StickLot | None = None
) -> Written[StickLot]:
    """Add a lot of sticks, or change one; its type is settled by the first reading with it."""
    require(by, "edit_setup")
    if stick_lot is not None:
        stick_lot = StickLot.objects.select_for_update().get(pk=stick_lot.pk)
    lot = _words(values.lot, field="lot", what="the lot as it stands on the box")
    _check_free(
        StickLot.objects.filter(stick_type=values.stick_type, lot__iexact=lot),
        stick_lot,
        field="lot",
        message=f"Lot {lot} of {values.stick_type.name} is set up already.",
    )
    if values.received_on is not None:
        if values.received_on > brewery_day(by.now, Brewery.current()):
            raise Refusal("That day is still to come.", field="received_on")
        if values.expires_on < values.received_on:
            raise Refusal("It cannot expire before it came.", field="expires_on")
    if stick_lot is None:
        stick_lot = StickLot(stick_type=values.stick_type)
    elif stick_lot.stick_type_id != values.stick_type.pk and stick_lot.results.exists():
        raise Refusal(
            "Sticks of this lot were read, so its type is settled.",
            field="stick_type",
            code="lot_in_use",
        )
    changed = change(
        stick_lot,
        stick_type=values.stick_type,
        lot=lot,
        expires_on=values.expires_on,
        received_on=values.received_on,
        storage_note=values.storage_note.strip(),
        active=values.active,
    )
    stick_lot.save()
    return Written(stick_lot, {"lot": str(stick_lot), **changed})

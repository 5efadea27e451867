"""Actions of lots: package a batch, ship a lot."""

from collections.abc import Sequence
from datetime import date, datetime

from django.db.models import Sum

from brewhygiene.batches.brews.queries import fill_at
from brewhygiene.batches.holds import refuse_held
from brewhygiene.batches.models.lots import Customer, Lot, Shipment
from brewhygiene.batches.models.movements import MovementKind
from brewhygiene.batches.moving import keep_movement
from brewhygiene.batches.numbers import key_of, tidy
from brewhygiene.batches.transfers.actions import (
    Drawn,
    check_drawn,
    check_equipment,
    empty_source,
)
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import Vessel
from brewhygiene.changeovers.crossing import refuse_crossing
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when

MOST_UNITS = 1_000_000


@action("package lot")
def package(
    *,
    by: Actor,
    vessel: Vessel,
    number: str,
    container: str,
    unit_l: float,
    units: int,
    packaged_at: datetime,
    best_before: date | None = None,
    loss_hl: float = 0,
    loss_reason: str = "",
    empties: bool = False,
    through: Sequence[Vessel] = (),
) -> Recorded[Lot]:
    """Package what a vessel contains: ``units`` of ``unit_l`` L each, and a loss in hL.

    Refused while its batch is held.
    """
    user = require(by, "work_cellar")
    packaged_at = check_when(packaged_at, by=by, field="packaged_at")
    if not number.strip():
        raise Refusal("Enter the lot number.", field="number")
    if Lot.objects.filter(number_key=key_of(number)).exists():
        raise Refusal(
            f"Lot {tidy(number)} is already recorded. Enter another number.",
            field="number",
            code="twice",
        )
    if not container.strip():
        raise Refusal("Enter the container, e.g. keg.", field="container")
    if not 0 < unit_l <= 10_000:
        raise Refusal("Enter a volume above 0.", field="unit_l")
    if not 1 <= units <= MOST_UNITS:
        raise Refusal(f"Enter 1 to {MOST_UNITS} units.", field="units")
    if best_before is not None and best_before < brewery_day(packaged_at, Brewery.current()):
        raise Refusal("Enter a date after the packaging.", field="best_before")
    check_equipment(through)
    link = fill_at(vessel, packaged_at, field="packaged_at")
    refuse_held(link.batch)
    refuse_crossing(link.batch.beer, until=packaged_at, through=through)
    drawn = Drawn(vessel, units * unit_l / 100, loss_hl, loss_reason, empties)
    try:
        check_drawn(drawn, link)
    except Refusal as refusal:
        field = "units" if refusal.field == "volume_hl" else refusal.field
        raise Refusal(refusal.message, field=field, code=refusal.code) from refusal
    lot = Lot.objects.create(
        number=tidy(number),
        number_key=key_of(number),
        batch=link.batch,
        container=container.strip(),
        unit_l=unit_l,
        units=units,
        packaged_at=packaged_at,
        best_before=best_before,
        recorded_by=user,
    )
    keep_movement(
        by=by,
        kind=MovementKind.PACKAGE,
        moved_at=packaged_at,
        source=link.fill,
        target=lot,
        through=through,
        volume_hl=drawn.volume_hl,
        loss_hl=loss_hl,
        loss_reason=loss_reason.strip(),
    )
    empty_source(drawn, by=by, at=packaged_at)
    return Recorded(
        lot,
        {
            "number": lot.number,
            "batch": link.batch.number,
            "vessel": vessel.name,
            "container": lot.container,
            "units": units,
            "unit_l": unit_l,
            "loss_hl": loss_hl,
            "loss_reason": loss_reason.strip(),
            "through": [one.name for one in through],
            "packaged_at": packaged_at,
            "best_before": best_before,
        },
        aggregate=lot,
    )


def units_shipped(lot: Lot) -> int:
    """How many of a lot's units went out. 1 query."""
    return lot.shipments.aggregate(all=Sum("units"))["all"] or 0


def customer_named(name: str, address: str) -> Customer:
    """The customer of a name; a new one needs its address."""
    if not name.strip():
        raise Refusal("Enter the customer.", field="customer")
    known = Customer.objects.filter(name_key=key_of(name)).first()
    if known is not None:
        if address.strip() and tidy(address) != known.address:
            raise Refusal(
                f"{known.name} is recorded at {known.address}. Leave the address blank, or enter "
                "another name.",
                field="address",
            )
        return known
    if not address.strip():
        raise Refusal("This customer is new. Enter its address.", field="address")
    return Customer.objects.create(name=tidy(name), name_key=key_of(name), address=tidy(address))


def check_shipment(lot: Lot, *, units: int, shipped_on: date, by: Actor, of_these: int = 0) -> None:
    """Refuse more units than are left, and a day to come or before the packaging.

    ``of_these`` units of the lot are this shipment's already, where it is corrected.
    """
    if units < 1:
        raise Refusal("Enter at least 1 unit.", field="units")
    left = lot.units - units_shipped(lot) + of_these
    if units > left:
        raise Refusal(
            f"Only {left} of {lot.units} units of lot {lot.number} are left. Enter at most that.",
            field="units",
            code="unbalanced",
        )
    brewery = Brewery.current()
    if shipped_on > brewery_day(by.now, brewery):
        raise Refusal("Enter a day that is not in the future.", field="shipped_on")
    if shipped_on < brewery_day(lot.packaged_at, brewery):
        raise Refusal("The lot was not packaged yet. Enter a later day.", field="shipped_on")


@action("ship lot")
def ship(
    *,
    by: Actor,
    lot: Lot,
    customer: str,
    units: int,
    shipped_on: date,
    address: str = "",
    document: str = "",
) -> Recorded[Shipment]:
    """Ship units of a lot to a customer, new or known. Refused while its batch is held."""
    user = require(by, "work_cellar")
    lot = Lot.objects.select_for_update(of=("self",)).select_related("batch").get(pk=lot.pk)
    refuse_held(lot.batch)
    check_shipment(lot, units=units, shipped_on=shipped_on, by=by)
    shipment = Shipment.objects.create(
        lot=lot,
        customer=customer_named(customer, address),
        units=units,
        shipped_on=shipped_on,
        document=document.strip(),
        recorded_at=by.now,
        recorded_by=user,
    )
    return Recorded(
        shipment,
        {
            "lot": lot.number,
            "customer": shipment.customer.name,
            "address": shipment.customer.address,
            "units": units,
            "shipped_on": shipped_on,
            "document": shipment.document,
        },
        aggregate=lot,
    )

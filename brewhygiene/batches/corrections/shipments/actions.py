"""Correct a shipment: its lot, its customer, how many units, when, by which note."""

from datetime import date
from typing import Any

from brewhygiene.batches.corrections.actions import refuse_stale, refuse_without_reason
from brewhygiene.batches.lots.actions import check_shipment, customer_named
from brewhygiene.batches.models.corrections import ShipmentCorrection
from brewhygiene.batches.models.lots import Lot, Shipment
from brewhygiene.batches.numbers import key_of
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal


def words_of(shipment: Shipment) -> dict[str, Any]:
    """A shipment as it stands, for the record of its correction."""
    return {
        "lot": shipment.lot.number,
        "customer": shipment.customer.name,
        "units": shipment.units,
        "shipped_on": shipment.shipped_on.isoformat(),
        "document": shipment.document,
    }


def _lot_named(number: str) -> Lot:
    lots = Lot.objects.select_for_update(of=("self",)).filter(number_key=key_of(number))
    if (lot := lots.first()) is None:
        raise Refusal(
            f"No lot {number.strip()} is recorded. Enter one that is.", field="lot", code="unknown"
        )
    return lot


@action("correct shipment")
def correct_shipment(
    *,
    by: Actor,
    shipment: Shipment,
    lot: str,
    customer: str,
    units: int,
    shipped_on: date,
    reason: str,
    password: str,
    revision_seen: int,
    address: str = "",
    document: str = "",
) -> Recorded[ShipmentCorrection]:
    """Correct what a shipment was recorded as, signed; a recall goes by it from then on.

    It may be of a lot that is held: the units are with the customer all the same.
    """
    require(by, "work_cellar")
    refuse_without_reason(reason)
    rows = Shipment.objects.select_for_update(of=("self",)).select_related("lot", "customer")
    shipment = rows.get(pk=shipment.pk)
    signed = shipment.corrections.select_related("signature").order_by("pk")
    refuse_stale(list(signed), revision_seen, fields={})
    was, was_lot, had = words_of(shipment), shipment.lot, shipment.units
    shipment.lot = _lot_named(lot)
    check_shipment(
        shipment.lot,
        units=units,
        shipped_on=shipped_on,
        by=by,
        of_these=had if shipment.lot == was_lot else 0,
    )
    shipment.customer = customer_named(customer, address)
    shipment.units, shipment.shipped_on = units, shipped_on
    shipment.document = document.strip()
    became = words_of(shipment)
    if became == was:
        raise Refusal("Enter something different. This is recorded.", code="same")
    shipment.save(update_fields=["lot", "customer", "units", "shipped_on", "document"])
    correction = ShipmentCorrection.objects.create(
        shipment=shipment,
        was=was,
        became=became,
        was_lot=was_lot if shipment.lot != was_lot else None,
        reason=reason.strip()[:200],
        corrected_at=by.now,
        signature=sign(by=by, password=password, meaning=f"Correct: {shipment}"[:200]),
    )
    return Recorded(
        correction,
        {"was": was, "became": became, "reason": correction.reason, "signed_by": by.name},
        aggregate=shipment.lot,
    )

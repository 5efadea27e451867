"""The form that corrects a shipment: what it has, as it stands."""

from typing import Any

from django import forms

from brewhygiene.batches.corrections.forms import WHY
from brewhygiene.batches.forms import number_field, reason_field
from brewhygiene.batches.lots.forms import ShipForm
from brewhygiene.batches.models.lots import Shipment
from brewhygiene.release.forms import PasswordField


class CorrectShipmentForm(ShipForm):
    """Of which lot, to whom, how many, when, with a reason, signed."""

    revision_seen = forms.IntegerField(widget=forms.HiddenInput)
    lot = number_field("Lot number", missing="Enter the lot number.")
    reason = reason_field("Reason for the correction", error_messages=WHY)
    password = PasswordField()
    field_order = ("lot",)

    def __init__(self, *args: Any, shipment: Shipment, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "lot": shipment.lot.number,
            "customer": shipment.customer.name,
            "units": shipment.units,
            "shipped_on": shipment.shipped_on,
            "document": shipment.document,
        }
        super().__init__(*args, **kwargs)

    @property
    def plain(self) -> list[Any]:
        return self.visible_fields()

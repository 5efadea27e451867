"""Forms of lots: package, ship."""

from typing import Any

from django import forms
from django.utils import timezone

from brewhygiene.batches.forms import BrewForm, number_field, reason_field, volume_field
from brewhygiene.batches.transfers.forms import loss_field
from brewhygiene.cellar.models import Vessel
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import DayField, MomentField
from brewhygiene.quantities.fields import CountField
from brewhygiene.release.forms import ThroughField


class PackageForm(BrewForm):
    """A lot: its container, how many, and what was lost."""

    number = number_field("Lot number", missing="Enter the lot number.")
    container = forms.CharField(
        max_length=60,
        help_text="E.g. keg, or bottle.",
        error_messages={"required": "Enter the container, e.g. keg."},
    )
    unit_l = volume_field("Volume of each", stored="L")
    units = CountField(
        label="Units",
        low=1,
        high=1_000_000,
        pad=True,
        error_messages={"required": "Enter how many units."},
    )
    best_before = DayField(label="Best before", required=False, help_text="Optional.")
    empties = forms.BooleanField(required=False)
    through = ThroughField()
    loss_hl = loss_field()
    loss_reason = reason_field("Where the loss went", required=False)
    packaged_at = MomentField(label="Packaged at", required=False, initial=None)
    folded = {
        "Hoses, heat exchanger, filler": ("through",),
        "Loss": ("loss_hl", "loss_reason"),
        "Packaged earlier than now": ("packaged_at",),
    }

    def __init__(self, *args: Any, vessel: Vessel, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["empties"].label = f"{vessel.name} is empty now"


class ShipForm(ActionForm):
    """Who got how much of a lot, and when."""

    customer = forms.CharField(
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "off", "list": "customers"}),
        error_messages={"required": "Enter the customer."},
    )
    address = forms.CharField(
        max_length=200, required=False, help_text="Needed for a new customer only."
    )
    units = CountField(
        label="Units", low=1, high=1_000_000, error_messages={"required": "Enter how many units."}
    )
    shipped_on = DayField(
        label="Shipped on",
        initial=timezone.localdate,
        error_messages={"required": "Enter the day."},
    )
    document = forms.CharField(
        label="Delivery note", max_length=60, required=False, help_text="Optional. Its number."
    )

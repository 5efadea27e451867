"""Forms of corrections of batches and lots."""

from brewhygiene.batches.forms import BrewForm, number_field, reason_field, volume_field
from brewhygiene.quantities.fields import CountField

WHY = {"required": "Enter a reason."}


class CorrectBatchForm(BrewForm):
    number = number_field("Batch", missing="Enter the batch.")
    reason = reason_field("Reason", error_messages=WHY)


class CorrectLotForm(BrewForm):
    number = number_field("Lot number", missing="Enter the lot number.")
    units = CountField(
        label="Units", low=1, high=1_000_000, error_messages={"required": "Enter the units."}
    )
    unit_l = volume_field("Volume of each", stored="L")
    reason = reason_field("Reason", error_messages=WHY)

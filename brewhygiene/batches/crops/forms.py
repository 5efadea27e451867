"""Forms of yeast crops: crop one, record a bought one, say which plate is its own."""

from typing import Any

from django import forms

from brewhygiene.batches.forms import BrewForm, VesselChoice, number_field, volume_field
from brewhygiene.cellar.models import Vessel
from brewhygiene.people.forms import ActionForm
from brewhygiene.plates.models import Plate
from brewhygiene.quantities.days import MomentField
from brewhygiene.quantities.fields import CountField, NumberField
from brewhygiene.release.forms import ThroughField

NUMBER = "Enter the number of the crop."


def viability_field() -> NumberField:
    return NumberField(
        label="Viability",
        unit="%",
        low=0,
        high=100,
        required=False,
        help_text="Optional. If blank, it was not counted.",
    )


class CropForm(BrewForm):
    """Yeast cropped from what a vessel contains."""

    number = number_field("Number of the crop", missing=NUMBER)
    volume_l = volume_field("Volume", stored="L")
    vessel = VesselChoice(
        label="Into",
        queryset=Vessel.objects.none(),
        required=False,
        empty_label="Not recorded",
        help_text="Optional. The yeast vessel, which has to be released.",
    )
    viability_pct = viability_field()
    generation = CountField(
        low=0,
        high=99,
        required=False,
        help_text="Optional. If blank, one more than the yeast that was pitched.",
    )
    through = ThroughField()
    cropped_at = MomentField(label="Cropped at", required=False, initial=None)
    folded = {"Hoses": ("through",), "Cropped earlier than now": ("cropped_at",)}

    def __init__(self, *args: Any, targets: Any, notes: dict[int, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        vessel = self.fields["vessel"]
        assert isinstance(vessel, VesselChoice)
        vessel.queryset, vessel.notes = targets, notes


class BoughtForm(BrewForm):
    """Yeast that was bought."""

    number = number_field("Number of the crop", missing=NUMBER)
    supplier = forms.CharField(
        label="Supplier and lot",
        max_length=120,
        error_messages={"required": "Enter who sold the yeast, and its lot."},
    )
    volume_l = volume_field("Volume", stored="L")
    viability_pct = viability_field()
    generation = CountField(
        low=0, high=99, required=False, help_text="Optional. If blank, generation 0."
    )
    cropped_at = MomentField(
        label="Received at", error_messages={"required": "Enter when it was received."}
    )


class PlateForm(ActionForm):
    """Which plate is of a crop."""

    plate = forms.ModelChoiceField(
        queryset=Plate.objects.none(),
        empty_label="Choose",
        error_messages={"required": "Choose a plate."},
    )

    def __init__(self, *args: Any, plates: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plate = self.fields["plate"]
        assert isinstance(plate, forms.ModelChoiceField)
        plate.queryset = plates

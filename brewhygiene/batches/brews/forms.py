"""Forms of a batch: record it, pitch it, hold it by hand."""

from typing import Any

from django import forms

from brewhygiene.batches.forms import BrewForm, number_field, reason_field, volume_field
from brewhygiene.batches.models.batches import YeastCrop
from brewhygiene.cellar.models import Beer
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField
from brewhygiene.release.forms import ThroughField


class BatchForm(BrewForm):
    """A batch before it is in a vessel."""

    number = number_field("Batch number", missing="Enter the batch.")
    beer = forms.ModelChoiceField(
        queryset=Beer.objects.filter(active=True),
        empty_label="Choose",
        error_messages={"required": "Choose a beer."},
    )
    volume_hl = volume_field("Volume")
    brewed_at = MomentField(
        label="Brewed at", error_messages={"required": "Enter when it was brewed."}
    )


class CropChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    """Yeast crops, with their generation, and the word that one is held."""

    held: frozenset[int] = frozenset()

    def label_from_instance(self, crop: YeastCrop) -> str:
        note = ", held" if crop.pk in self.held else ""
        return f"{crop.number}, generation {crop.generation}{note}"


class PitchForm(BrewForm):
    """Which crop went in, how much of it, and when."""

    crop = CropChoice(
        label="Yeast crop",
        queryset=YeastCrop.objects.none(),
        empty_label="Choose",
        error_messages={"required": "Choose a yeast crop."},
    )
    volume_l = volume_field(
        "Volume pitched",
        stored="L",
        required=False,
        help_text="Optional. If blank, the trace says that it was not recorded.",
    )
    pitched_at = MomentField(label="Pitched at", required=False, initial=None)
    through = ThroughField()
    folded = {"Pitched earlier than now": ("pitched_at",), "Hoses": ("through",)}

    def __init__(self, *args: Any, crops: Any, held: frozenset[int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        crop = self.fields["crop"]
        assert isinstance(crop, CropChoice)
        crop.queryset, crop.held = crops, held


class HoldForm(ActionForm):
    """A hold by hand."""

    reason = reason_field("Reason", error_messages={"required": "Enter a reason for the hold."})

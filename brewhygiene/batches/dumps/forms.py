"""The form of a dump."""

from typing import Any

from django import forms

from brewhygiene.batches.forms import BrewForm, reason_field, volume_field
from brewhygiene.batches.models.dumps import DumpReason, Went
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.days import MomentField
from brewhygiene.release.forms import PasswordField, ThroughField


class DumpForm(BrewForm):
    """How much is dumped, why, and where it goes."""

    volume_hl = volume_field("Volume dumped", pad=True)
    empties = forms.BooleanField(required=False)
    why = forms.ChoiceField(
        label="Why",
        choices=[("", "Choose"), *DumpReason.choices],
        error_messages={"required": "Choose why."},
    )
    why_note = reason_field("In words", required=False, help_text="Needed for “other”.")
    went = forms.ChoiceField(
        label="Where it goes",
        choices=[("", "Choose"), *Went.choices],
        error_messages={"required": "Choose where it went."},
    )
    went_note = forms.CharField(
        label="Consent, haulier or receiver",
        max_length=200,
        required=False,
        help_text="Needed for a drain: the consent, or who gave it.",
    )
    through = ThroughField()
    dumped_at = MomentField(label="Dumped at", required=False, initial=None)
    password = PasswordField()
    folded = {"Hoses": ("through",), "Dumped earlier than now": ("dumped_at",)}

    def __init__(self, *args: Any, vessel: Vessel, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["empties"].label = f"{vessel.name} is empty now"

    @property
    def plain(self) -> list[Any]:
        """The fields that are in sight, but for the signature, which comes last."""
        return [field for field in super().plain if field.name != "password"]

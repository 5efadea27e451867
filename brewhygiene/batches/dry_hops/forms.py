"""The form of a dry hop."""

from django import forms

from brewhygiene.batches.forms import BrewForm
from brewhygiene.batches.models.movements import MOST_ADDED
from brewhygiene.quantities.days import MomentField
from brewhygiene.release.forms import ThroughField


class DryHopForm(BrewForm):
    """Which hops went in, through which gear, and when."""

    hops = forms.CharField(
        label="Hops and their lot",
        max_length=MOST_ADDED,
        help_text="E.g. 12 kg pellets, lot 26-118.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Enter the hops and their lot."},
    )
    through = ThroughField()
    hopped_at = MomentField(label="Added at", required=False, initial=None)
    folded = {"Added earlier than now": ("hopped_at",)}

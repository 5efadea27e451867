"""The form that ends a recall drill."""

from django import forms

from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.fields import CountField


class EndForm(ActionForm):
    """What was counted, and where a difference comes from."""

    in_stock = CountField(
        label="Units counted in stock",
        low=0,
        high=1_000_000,
        error_messages={"required": "Enter the units in stock."},
    )
    lost = CountField(
        label="Units lost, broken or dumped",
        low=0,
        high=1_000_000,
        error_messages={"required": "Enter the units lost. 0 if none."},
    )
    explanation = forms.CharField(
        label="Where the difference comes from",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Optional where the units balance.",
    )

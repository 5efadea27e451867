"""Forms of the brewery's tablets."""

from django import forms

from brewhygiene.people.forms import ConfirmedForm


class TabletForm(ConfirmedForm):
    name = forms.CharField(
        label="Name of the tablet",
        max_length=40,
        widget=forms.TextInput(attrs={"placeholder": "Cellar 1"}),
        error_messages={"required": "Enter a name for this tablet."},
    )

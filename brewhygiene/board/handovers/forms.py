"""The form of a handover."""

from django import forms

from brewhygiene.people.forms import ActionForm


class HandoverForm(ActionForm):
    note = forms.CharField(
        label="Note for the next shift",
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What the list does not say: a hose left out, a call expected.",
    )

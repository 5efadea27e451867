"""The form of a signed decision on one hold."""

from django import forms

from brewhygiene.batches.models.holds import Choice
from brewhygiene.people.forms import ActionForm
from brewhygiene.release.forms import PasswordField


class DecideForm(ActionForm):
    """Hold, sample, release, destroy or recall, with a reason."""

    choice = forms.ChoiceField(
        label="Decision",
        choices=Choice.choices,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose a decision."},
    )
    reason = forms.CharField(
        label="Reason",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Enter a reason."},
    )
    password = PasswordField()

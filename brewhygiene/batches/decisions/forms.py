"""The form of a signed decision on one hold."""

from django import forms

from brewhygiene.batches.models.holds import Choice
from brewhygiene.people.forms import ActionForm, ConfirmedForm
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


class TraceRuleForm(ConfirmedForm):
    """Which rule a trace goes by."""

    clean_frees_equipment = forms.BooleanField(
        label="A released clean frees equipment",
        required=False,
        help_text="If not, equipment is at risk until a negative plate of it. Beer and yeast are "
        "never freed.",
    )
    field_order = ("clean_frees_equipment", "password")

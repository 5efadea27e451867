"""Forms of the first person and of the release rules."""

from django import forms

from brewhygiene.brewery.forms import time_zone_field
from brewhygiene.people.forms import ConfirmedForm
from brewhygiene.people.signing_in.forms import NewPasswordForm
from brewhygiene.people.staff.forms import username_field
from brewhygiene.setup.actions import waivable_choices


class FirstPersonForm(NewPasswordForm):
    brewery_name = forms.CharField(label="Name of the brewery", max_length=120)
    time_zone = time_zone_field()
    full_name = forms.CharField(
        label="Your full name", max_length=120, help_text="Printed under your signature."
    )
    initials = forms.CharField(label="Your initials", max_length=6)
    username = username_field()


class ReleaseRulesForm(ConfirmedForm):
    self_release_allowed = forms.BooleanField(
        label="Allow self-release",
        required=False,
        help_text="For a brewery of one. A person who cleaned or sampled can also release. Each "
        "self-release is marked, counted and printed on the record.",
    )
    waivable_gates = forms.MultipleChoiceField(
        label="Checks that the head brewer can waive",
        choices=waivable_choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Each waiver needs a cause, what was checked and the result, which are printed "
        "on the record. Over the action limit two people sign.",
    )
    field_order = ("self_release_allowed", "waivable_gates", "password")

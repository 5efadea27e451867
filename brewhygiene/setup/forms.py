"""Forms of the first person and of the rules of release."""

from django import forms

from brewhygiene.brewery.forms import time_zone_field
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.signing_in.forms import NewPasswordForm
from brewhygiene.people.staff.forms import username_field
from brewhygiene.setup.actions import waivable_choices


class FirstPersonForm(NewPasswordForm):
    brewery_name = forms.CharField(label="Name of the brewery", max_length=120)
    time_zone = time_zone_field()
    full_name = forms.CharField(
        label="Your full name", max_length=120, help_text="As it stands under a signature."
    )
    initials = forms.CharField(label="Your initials", max_length=6)
    username = username_field()


class ReleaseRulesForm(ActionForm):
    self_release_allowed = forms.BooleanField(
        label="The one who cleaned may also release",
        required=False,
        help_text="Only where there are not two people to do it. Each time is flagged, counted "
        "and printed on the record.",
    )
    waivable_gates = forms.MultipleChoiceField(
        label="The head brewer may release in spite of a “no” at",
        choices=waivable_choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Each time with a reason, which stands on the record for good. A gate that is "
        "not ticked cannot be passed with a “no”.",
    )

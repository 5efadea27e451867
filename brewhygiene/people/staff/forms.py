"""Forms of the people of the brewery."""

from django import forms
from django.contrib.auth.validators import UnicodeUsernameValidator

from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER
from brewhygiene.people.signing_in.forms import ConfirmedForm, NewPasswordForm

ROLE_CHOICES = [
    (CELLAR, "Cellar: empties, cleans, samples, fills"),
    (HEAD_BREWER, "Head brewer: all that, holds and releases, changes the set-up"),
    (OWNER, "Owner: sees everything, manages people"),
]


class PersonForm(ConfirmedForm):
    full_name = forms.CharField(
        label="Full name", max_length=120, help_text="As it stands under a signature."
    )
    initials = forms.CharField(label="Initials", max_length=6)
    roles = forms.MultipleChoiceField(
        label="Roles",
        choices=ROLE_CHOICES,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="With none ticked, a person may look but not record.",
    )


class EditPersonForm(PersonForm):
    is_active = forms.BooleanField(
        label="May sign in",
        required=False,
        help_text="Untick when somebody leaves. What they recorded stays under their name.",
    )
    own_role_reason = forms.CharField(
        label="Reason for giving yourself a role that signs",
        max_length=200,
        required=False,
        help_text="Only where nobody else can give it. It stays beside your name.",
    )
    field_order = ("full_name", "initials", "roles", "own_role_reason", "is_active", "password")


def username_field() -> forms.CharField:
    return forms.CharField(
        label="Name to sign in with",
        max_length=150,
        validators=[
            UnicodeUsernameValidator(message="Letters, digits and @ . + - _ only, without spaces.")
        ],
        help_text="Short and in small letters, as “jonas”. It cannot be changed afterwards.",
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )


class AddPersonForm(PersonForm, NewPasswordForm):
    username = username_field()
    field_order = (
        "full_name",
        "initials",
        "username",
        "roles",
        "new_password",
        "new_password_again",
        "password",
    )


class OthersPasswordForm(ConfirmedForm, NewPasswordForm):
    field_order = ("new_password", "new_password_again", "password")


class ForgetForm(ConfirmedForm):
    """The password of whoever empties a name."""

"""Forms of the people of the brewery."""

from django import forms
from django.contrib.auth.validators import UnicodeUsernameValidator

from brewhygiene.people.forms import ConfirmedForm
from brewhygiene.people.roles import CELLAR, HEAD_BREWER, OWNER
from brewhygiene.people.signing_in.forms import NewPasswordForm

ROLE_CHOICES = [
    (CELLAR, "Cellar: empty, clean, sample and fill vessels"),
    (HEAD_BREWER, "Head brewer: cellar work, hold and release vessels, edit the set-up"),
    (OWNER, "Owner: see everything, manage people"),
]


class PersonForm(ConfirmedForm):
    full_name = forms.CharField(
        label="Full name", max_length=120, help_text="Printed under a signature."
    )
    initials = forms.CharField(label="Initials", max_length=6)
    roles = forms.MultipleChoiceField(
        label="Roles",
        choices=ROLE_CHOICES,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Optional. A person without a role can look but not record.",
    )


class EditPersonForm(PersonForm):
    is_active = forms.BooleanField(
        label="Can sign in",
        required=False,
        help_text="Untick when the person leaves. Their records stay.",
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
        label="Sign-in name",
        max_length=150,
        validators=[
            UnicodeUsernameValidator(
                message="Enter only letters, digits and @ . + - _, without spaces."
            )
        ],
        help_text="Short, in small letters, e.g. jonas. It cannot be changed later.",
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

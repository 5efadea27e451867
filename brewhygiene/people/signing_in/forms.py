"""Forms for signing in, taking over a tablet, and one's own password and PIN."""

from typing import Any

from django import forms

from brewhygiene.people.forms import ActionForm, limit_text, password_field
from brewhygiene.people.models import User
from brewhygiene.quantities.style import DATES, DECIMALS


def pin_field(label: str, *, pad: bool = False, **kwargs: Any) -> forms.CharField:
    attrs = {"inputmode": "numeric", "autocomplete": "off", "class": "number", "maxlength": "12"}
    if pad:
        attrs["data-pad"] = "count"
    return forms.CharField(
        label=label,
        widget=forms.PasswordInput(attrs=attrs),
        error_messages={"required": "Enter the PIN."},
        **kwargs,
    )


class BareForm(forms.Form):
    """A form that calls no action, with labels and bounds as everywhere."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, forms.CharField) and field.max_length is None:
                limit_text(field)


class SignInForm(BareForm):
    username = forms.CharField(
        label="Sign-in name",
        max_length=150,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
        error_messages={"required": "Enter your sign-in name."},
    )
    password = password_field("Password", known=True)

    def clean_username(self) -> str:
        """The name as it is stored, whatever capitals the tablet put in. 1 query."""
        typed = str(self.cleaned_data["username"])
        stored = list(
            User.objects.filter(username__iexact=typed).values_list("username", flat=True)[:2]
        )
        return stored[0] if len(stored) == 1 else typed


class PinForm(BareForm):
    """Taking over a tablet by PIN."""

    pin = pin_field("PIN", pad=True)


class PasswordForm(BareForm):
    """The same by password."""

    password = password_field("Password", known=True)


class NewPasswordForm(ActionForm):
    """A new password, typed twice."""

    new_password = password_field("New password", known=False)
    new_password_again = password_field("Repeat new password", known=False)

    def clean_new_password_again(self) -> str:
        again = str(self.cleaned_data["new_password_again"])
        if again != self.cleaned_data.get("new_password", again):
            raise forms.ValidationError("The two are different. Enter both again.", code="differs")
        return again


class OwnPasswordForm(NewPasswordForm):
    password = password_field("Current password", known=True)
    field_order = ("password", "new_password", "new_password_again")


class OwnPinForm(ActionForm):
    new_pin = pin_field("New PIN", help_text="Four digits or more.")
    new_pin_again = pin_field("Repeat new PIN")
    password = password_field("Your password", known=True)

    def clean_new_pin_again(self) -> str:
        again = str(self.cleaned_data["new_pin_again"])
        if again != self.cleaned_data.get("new_pin", again):
            raise forms.ValidationError("The two are different. Enter both again.", code="differs")
        return again


class OwnStyleForm(ActionForm):
    """How numbers and dates are shown to oneself."""

    decimal_sign = forms.ChoiceField(
        label="Decimal sign",
        choices=[("", "As usual here"), *DECIMALS.items()],
        required=False,
        help_text="Both can be typed, whatever is shown.",
    )
    date_style = forms.ChoiceField(
        label="Dates and times", choices=[("", "As usual here"), *DATES.items()], required=False
    )

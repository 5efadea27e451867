"""The base of every form that calls an action."""

import uuid
from collections.abc import Callable
from typing import Any, TypeVar

from django import forms
from django.core.exceptions import PermissionDenied
from django.core.validators import MaxLengthValidator

from brewhygiene.quantities.style import PLAIN, written_in
from brewhygiene.refusals import NotAllowed, Refusal

T = TypeVar("T")
LONGEST_TEXT = 2000
DJANGOS_WORDS = forms.Field.default_error_messages["required"]


def new_key() -> str:
    return uuid.uuid4().hex


def limit_text(field: forms.CharField) -> None:
    """Bound a text that says no bound of its own; a page could neither show nor print more."""
    field.max_length = LONGEST_TEXT
    field.validators.append(MaxLengthValidator(LONGEST_TEXT))


def password_field(label: str, *, known: bool, **kwargs: Any) -> forms.CharField:
    """A password box; ``known`` tells a password manager whether to fill or to offer one."""
    complete = "current-password" if known else "new-password"
    return forms.CharField(
        label=label,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": complete}),
        error_messages={"required": "Enter the password."},
        **kwargs,
    )


class ActionForm(forms.Form):
    """A form with an idempotency key and the tablet's clock; refusals become its errors.

    The key is kept when the form comes back with an error or is sent again after a lost
    answer, so that nothing is written twice.
    """

    key = forms.CharField(widget=forms.HiddenInput, required=False, initial=new_key)
    client_time = forms.CharField(
        widget=forms.HiddenInput(attrs={"data-client-time": ""}), required=False
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, forms.CharField) and field.max_length is None:
                limit_text(field)
            if field.error_messages.get("required") == DJANGOS_WORDS:
                field.error_messages["required"] = "Fill in this field."

    @property
    def given(self) -> dict[str, Any]:
        """What was filled in, by field; without the key and the tablet's clock."""
        hidden = ActionForm.base_fields
        return {name: value for name, value in self.cleaned_data.items() if name not in hidden}

    def attempt(self, call: Callable[[], T]) -> T | None:
        """Call an action; a refusal becomes an error beside its field and ``None`` is returned.

        What is worked out for it on the way is written in the plain style, as it is recorded.
        Raises ``PermissionDenied`` where the role does not include the action.
        """
        try:
            with written_in(PLAIN):
                return call()
        except NotAllowed as refusal:
            raise PermissionDenied(refusal.message) from refusal
        except Refusal as refusal:
            self.refuse(refusal)
            return None

    def refuse(self, refusal: Refusal) -> None:
        field = refusal.field if refusal.field in self.fields else None
        self.add_error(field, forms.ValidationError(refusal.message, code=refusal.code))


class ConfirmedForm(ActionForm):
    """A form that is sent with the password of the one who sends it; a PIN will not do."""

    password = password_field("Your password", known=True)

    @property
    def given(self) -> dict[str, Any]:
        given = super().given
        del given["password"]
        return given

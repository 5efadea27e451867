"""The base of every form that calls a verb."""

import uuid
from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

from django import forms
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from brewhygiene.refusals import NotAllowed, Refusal

T = TypeVar("T")
DJANGOS_WORDS = forms.Field.default_error_messages["required"]


def new_key() -> str:
    return uuid.uuid4().hex


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
            if field.error_messages.get("required") == DJANGOS_WORDS:
                field.error_messages["required"] = "Fill this in."

    def attempt(self, call: Callable[[], T]) -> T | None:
        """Call a verb; a refusal becomes an error beside its field and ``None`` is returned.

        Raises ``PermissionDenied`` where the role does not include the verb.
        """
        try:
            return call()
        except NotAllowed as refusal:
            raise PermissionDenied(refusal.message) from refusal
        except Refusal as refusal:
            self.refuse(refusal)
            return None

    def refuse(self, refusal: Refusal) -> None:
        field = refusal.field if refusal.field in self.fields else None
        self.add_error(field, forms.ValidationError(refusal.message, code=refusal.code))


class MomentInput(forms.DateTimeInput):
    input_type = "datetime-local"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs={"step": "60", **(attrs or {})}, format="%Y-%m-%dT%H:%M")


class MomentField(forms.DateTimeField):
    """A date and time on the brewery's own clock; the time now where nothing else is given."""

    widget = MomentInput

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("initial", timezone.now)
        super().__init__(**kwargs)
        self.error_messages["invalid"] = "Give a date and a time, as 2026-03-14 06:30."

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, datetime) and timezone.is_aware(value):
            return timezone.localtime(value)
        return super().prepare_value(value)

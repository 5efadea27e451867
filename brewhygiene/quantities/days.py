"""A form field for a calendar day."""

from typing import Any

from django import forms


class DayField(forms.DateField):
    """A day, on the browser's own calendar."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput({"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)
        self.error_messages["invalid"] = "Give a day, as 2026-03-14."

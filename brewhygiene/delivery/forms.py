"""What a tablet sends of a form that the server did not take."""

import json
from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import FIRST_YEAR, LAST_YEAR

MOST_FIELDS, LONGEST = 60, 500


class PairsField(forms.CharField):
    """Pairs of a label and what was typed, as JSON."""

    def to_python(self, value: Any) -> list[tuple[str, str]]:  # type: ignore[override]
        try:
            pairs = json.loads(value or "[]")
            return [
                (str(label)[:LONGEST], str(typed)[:LONGEST]) for label, typed in pairs[:MOST_FIELDS]
            ]
        except (ValueError, TypeError, KeyError) as error:
            raise forms.ValidationError("This is not what a tablet sends.") from error

    def validate(self, value: Any) -> None:
        pass

    def run_validators(self, value: Any) -> None:
        pass


class StampField(forms.CharField):
    """A moment as a tablet's script writes it, with its offset from UTC."""

    def to_python(self, value: Any) -> datetime:  # type: ignore[override]
        try:
            moment = parse_datetime(str(value or ""))
        except ValueError:
            moment = None
        if moment is None or timezone.is_naive(moment):
            raise forms.ValidationError("This is not what a tablet sends.")
        if not FIRST_YEAR <= moment.year <= LAST_YEAR:
            raise forms.ValidationError("This is not what a tablet sends.")
        return moment

    def validate(self, value: Any) -> None:
        pass

    def run_validators(self, value: Any) -> None:
        pass


class SetAsideForm(ActionForm):
    what = forms.CharField(max_length=200)
    page = forms.CharField(max_length=300)
    typed = PairsField(required=False)
    typed_at = StampField(max_length=40)
    refused_because = forms.CharField(max_length=2000)
    reason = forms.CharField(
        max_length=300,
        required=False,
        strip=True,
    )

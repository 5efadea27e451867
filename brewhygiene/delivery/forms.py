"""What a tablet sends of a form that the server did not take."""

import json
from typing import Any

from django import forms

from brewhygiene.people.forms import ActionForm

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


class SetAsideForm(ActionForm):
    what = forms.CharField(max_length=200)
    page = forms.CharField(max_length=300)
    typed = PairsField(required=False)
    typed_at = forms.DateTimeField(input_formats=["%Y-%m-%dT%H:%M:%S.%f%z", "%Y-%m-%dT%H:%M:%S%z"])
    refused_because = forms.CharField(max_length=2000)
    reason = forms.CharField(
        max_length=300,
        required=False,
        strip=True,
    )

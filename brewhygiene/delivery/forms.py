"""What a tablet sends of a form that the server did not take."""

from datetime import datetime
from typing import Any

from django import forms

from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import read_stamp

MOST_FIELDS, LONGEST = 60, 500
NO_TABLETS = "This is not what a tablet sends."


class SetAsideForm(ActionForm):
    """``typed`` are pairs of a label and what was typed."""

    what = forms.CharField(max_length=200)
    page = forms.CharField(max_length=300)
    typed = forms.JSONField(
        required=False, max_length=MOST_FIELDS, error_messages={"invalid": NO_TABLETS}
    )
    typed_at = forms.CharField(max_length=40)
    refused_because = forms.CharField(max_length=2000)
    reason = forms.CharField(max_length=300, required=False)

    def clean_typed(self) -> list[tuple[str, str]]:
        pairs: Any = self.cleaned_data["typed"] or []
        if not isinstance(pairs, list) or not all(
            isinstance(pair, list) and len(pair) == 2 for pair in pairs
        ):
            raise forms.ValidationError(NO_TABLETS, code="no_pairs")
        return [(str(label)[:LONGEST], str(typed)[:LONGEST]) for label, typed in pairs]

    def clean_typed_at(self) -> datetime:
        moment = read_stamp(str(self.cleaned_data["typed_at"]))
        if moment is None:
            raise forms.ValidationError(NO_TABLETS, code="no_time")
        return moment

"""What a tablet sends of a form that the server did not take."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django import forms

from brewhygiene.delivery.models import Arrival
from brewhygiene.people.forms import ActionForm
from brewhygiene.people.signing_in.forms import pin_field
from brewhygiene.people.signing_in.second_signature import SECRET
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


class ConfirmNameForm(ActionForm):
    """What waits for a person's confirmation, each with a tick, and their PIN or password."""

    arrivals = forms.TypedMultipleChoiceField(
        label="Recorded by you",
        coerce=int,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        error_messages={"invalid_choice": "Some of these do not wait for you any more."},
    )

    def __init__(self, *args: Any, waiting: Sequence[Arrival], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.waiting = waiting
        self.fields["arrivals"].choices = [  # type: ignore[attr-defined]
            (one.pk, one.subject_label) for one in waiting
        ]
        self.fields[SECRET] = pin_field("Your PIN or password", required=False)

    def ticks(self) -> list[tuple[Arrival, bool]]:
        """Each, and whether it is ticked."""
        ticked = {str(pk) for pk in self["arrivals"].value() or []}
        return [(one, str(one.pk) in ticked) for one in self.waiting]

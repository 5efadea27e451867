"""The form of a found cause."""

from collections.abc import Sequence
from typing import Any

from django import forms

from brewhygiene.atp.models.causes import Cause
from brewhygiene.atp.models.readings import Result
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField


class ReadingChoice(forms.ModelChoiceField):
    """A reading that was over a limit, by its point and number."""

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.point.name}: {obj.rlu} RLU, {obj.get_verdict_display()}"


class FoundCauseForm(ActionForm):
    """What was found, where, and anything to add. The causes in the order in which one looks."""

    cause = forms.ChoiceField(
        label="What was found",
        choices=Cause.choices,
        widget=forms.RadioSelect,
        error_messages={
            "required": "Choose what was found; “looked, nothing found” counts too.",
            "invalid_choice": "Choose one of these.",
        },
    )
    result = ReadingChoice(
        label="Behind which reading",
        queryset=Result.objects.none(),
        widget=forms.RadioSelect,
        required=False,
        blank=True,
        empty_label="The vessel as a whole",
        error_messages={"invalid_choice": "That reading is not one of this turnaround's."},
    )
    note = forms.CharField(
        label="Anything to add",
        required=False,
        max_length=200,
        help_text="As which gasket, how far the flow was off, what was done about it.",
        error_messages={"max_length": "That is too long for the record: 200 letters at most."},
    )
    found_at = MomentField(
        label="When it was found",
        required=False,
        initial=None,
        help_text="Left empty, it means now.",
    )

    def __init__(self, *args: Any, readings: Sequence[Result], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["result"]
        if not readings:
            del self.fields["result"]
            return
        field.queryset = Result.objects.filter(  # type: ignore[attr-defined]
            pk__in=[reading.pk for reading in readings]
        ).select_related("point")

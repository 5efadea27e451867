"""The form of a found cause."""

from collections.abc import Sequence
from typing import Any

from django import forms

from brewhygiene.atp.models.causes import Cause, fits
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.models import SampleKind
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.days import MomentField


class CauseRadios(forms.RadioSelect):
    """Causes, each saying which kinds of sample it is not for; the page leaves those out."""

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        unfit = [kind for kind in SampleKind.values if value and not fits(str(value), kind)]
        if unfit:
            option["attrs"]["data-not-for"] = " ".join(unfit)
        return option


class ReadingRadios(forms.RadioSelect):
    """Readings, each saying of which kind its sample is."""

    def create_option(self, name: str, value: Any, *args: Any, **kwargs: Any) -> dict[str, Any]:
        option = super().create_option(name, value, *args, **kwargs)
        reading = getattr(value, "instance", None)
        if reading is not None:
            option["attrs"]["data-sample"] = reading.point.sample_kind
        return option


class ReadingChoice(forms.ModelChoiceField):
    """A reading that was over a limit, by its point and number."""

    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.point.name}: {obj.rlu} RLU, {obj.get_verdict_display()}"


class FoundCauseForm(ActionForm):
    """A cause, its reading and a note. The causes are in the order in which one looks."""

    cause = forms.ChoiceField(
        label="Cause",
        choices=Cause.choices,
        widget=CauseRadios,
        error_messages={
            "required": "Choose a cause. If there is none, choose “no cause found”.",
            "invalid_choice": "Choose a cause from the list.",
        },
    )
    result = ReadingChoice(
        label="Reading",
        queryset=Result.objects.none(),
        widget=ReadingRadios,
        required=False,
        blank=True,
        empty_label="The vessel as a whole",
        error_messages={"invalid_choice": "Choose a reading of this turnaround."},
    )
    note = forms.CharField(
        label="Note",
        required=False,
        max_length=200,
        help_text="Optional. E.g. which gasket, and what was done about it.",
        error_messages={"max_length": "Enter at most 200 characters."},
    )
    found_at = MomentField(
        label="Time found",
        required=False,
        initial=None,
        help_text="Optional. If blank, now.",
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

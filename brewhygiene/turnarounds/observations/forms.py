"""The fields by which a step's observations are answered, beside those of its end."""

import dataclasses
from collections.abc import Sequence
from typing import Any

from django import forms

from brewhygiene.cellar.photos.files import prepared_photo
from brewhygiene.people.forms import ActionForm
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.forms import YesNoField
from brewhygiene.turnarounds.models.observations import Observation
from brewhygiene.turnarounds.observations.keeping import LONGEST_NOTE, Seen, note_field


def _photo_field(observation: str) -> str:
    return f"{observation}_photo"


@dataclasses.dataclass(frozen=True)
class Asked:
    """The three fields of one observation."""

    answer: forms.BoundField
    note: forms.BoundField
    photo: forms.BoundField


class ObservedForm(ActionForm):
    """A form that asks for ``observations``: a tap each, with a note on a no and a photograph."""

    def __init__(self, *args: Any, observations: Sequence[Observation] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.observations = observations
        for observation in observations:
            label = str(observation.label).capitalize()
            self.fields[observation.value] = YesNoField(label=label, required=False)
            self.fields[note_field(observation)] = forms.CharField(
                label=f"{label}: what you found",
                required=False,
                max_length=LONGEST_NOTE,
                help_text="Needed with a No.",
            )
            self.fields[_photo_field(observation)] = forms.FileField(
                label=f"{label}: photo",
                required=False,
                max_length=300,
                widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
                help_text="Optional. JPEG, PNG or WebP, up to 15 MB.",
                error_messages={"empty": "This file is empty. Choose another."},
            )

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        for observation in self.observations:
            name = _photo_field(observation)
            if data.get(name):
                try:
                    data[name] = prepared_photo(data[name])
                except Refusal as refusal:
                    self.add_error(name, forms.ValidationError(refusal.message, code=refusal.code))
        return data

    def asked_fields(self) -> list[Asked]:
        return [
            Asked(self[one.value], self[note_field(one)], self[_photo_field(one)])
            for one in self.observations
        ]

    @property
    def notes_open(self) -> bool:
        """Whether a note or photograph was given or refused, so that it must not be folded."""
        return any(
            asked.note.value() or asked.note.errors or asked.photo.errors
            for asked in self.asked_fields()
        )

    def seen(self) -> list[Seen]:
        """What ``end_step`` and ``state_step`` take as observations."""
        return [
            Seen(
                one.value,
                self.cleaned_data[one.value],
                note=self.cleaned_data[note_field(one)],
                photo=self.cleaned_data[_photo_field(one)] or None,
            )
            for one in self.observations
        ]

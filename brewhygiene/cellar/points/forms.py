"""The set-up form of a sampling point."""

from typing import Any

from django import forms

from brewhygiene.cellar.models import (
    SampleKind,
)
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.fields import CountField, NumberField


class PointForm(ActionForm):
    name = forms.CharField(max_length=60, help_text="As the cellar says it: “racking arm”.")
    sample_kind = forms.ChoiceField(
        label="Sample",
        choices=[
            (SampleKind.RINSE, "Rinse: the last rinse or the sanitiser's drain, caught"),
            (SampleKind.SURFACE, "Surface: a swab of a stated area"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose one of the two."},
    )
    area_cm2 = NumberField(
        label="Area swabbed",
        unit="cm²",
        low=1,
        high=10_000,
        required=False,
        help_text="For a surface sample. 100 cm² is 10 × 10 cm.",
    )
    required_for_release = forms.BooleanField(
        label="Required for release",
        required=False,
        initial=True,
        help_text="Without its reading after the last clean, the vessel is not released.",
    )
    where_to_find = forms.CharField(
        label="Where to find it",
        required=False,
        max_length=200,
        help_text="For somebody who has never sampled there.",
    )
    order = CountField(
        label="Place in the round",
        low=0,
        high=9999,
        required=False,
        help_text="Small numbers are sampled first. Empty: last.",
    )

    def values(self) -> dict[str, Any]:
        """What the verb takes; a place that was left empty is left out."""
        given = {
            name: self.cleaned_data[name]
            for name in ("name", "sample_kind", "area_cm2", "required_for_release", "where_to_find")
        }
        if self.cleaned_data["order"] is not None:
            given["order"] = self.cleaned_data["order"]
        return given

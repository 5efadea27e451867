"""The set-up form of a sampling point."""

from typing import Any

from django import forms

from brewhygiene.cellar.models import SampleKind
from brewhygiene.cellar.moments import STATED_MOMENTS
from brewhygiene.people.forms import ConfirmedForm
from brewhygiene.quantities.fields import CountField, NumberField


class PointForm(ConfirmedForm):
    name = forms.CharField(max_length=60, help_text="E.g. Racking arm.")
    sample_kind = forms.ChoiceField(
        label="Sample",
        choices=[
            (SampleKind.RINSE, "Rinse, the last rinse or the drained sanitiser"),
            (SampleKind.SURFACE, "Surface, a swab of a set area"),
        ],
        widget=forms.RadioSelect,
        error_messages={"required": "Choose rinse or surface."},
    )
    moment = forms.ChoiceField(
        label="Sampled",
        choices=STATED_MOMENTS,
        widget=forms.RadioSelect,
        help_text="A sanitiser can dim the light, and a dirty vessel can then look clean. A sample "
        "before the sanitiser or before heat is taken at the sample step of the clean.",
        error_messages={"required": "Choose when this point is sampled."},
    )
    area_cm2 = NumberField(
        label="Area swabbed",
        unit="cm²",
        low=1,
        high=10_000,
        required=False,
        help_text="For a surface sample only. 100 cm² is 10 × 10 cm.",
    )
    required_for_release = forms.BooleanField(
        label="Required for release",
        required=False,
        initial=True,
        help_text="The vessel cannot be released without a reading here after the last clean.",
    )
    where_to_find = forms.CharField(
        label="Where to find it",
        required=False,
        max_length=200,
        help_text="Optional. For somebody who has never sampled there.",
    )
    order = CountField(
        label="Order of sampling",
        low=0,
        high=9999,
        required=False,
        help_text="Optional. The smallest number is sampled first. If blank, last.",
    )
    field_order = (
        "name",
        "sample_kind",
        "moment",
        "area_cm2",
        "required_for_release",
        "where_to_find",
        "order",
        "password",
    )

    @property
    def given(self) -> dict[str, Any]:
        """What was filled in; a place that was left empty is left out."""
        given = super().given
        if given["order"] is None:
            del given["order"]
        return given

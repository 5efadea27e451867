"""The form of the brewery's own settings."""

from typing import Any

from django import forms

from brewhygiene.brewery.models import FlowUnit, TemperatureUnit, VolumeUnit
from brewhygiene.brewery.time_zones import time_zone_choices
from brewhygiene.people.forms import VerbForm
from brewhygiene.quantities.fields import NumberField


def time_zone_field() -> forms.ChoiceField:
    return forms.ChoiceField(
        label="Time zone",
        choices=time_zone_choices,
        help_text="Times are kept in UTC and shown in this one.",
        error_messages={"invalid_choice": "Choose one of the list."},
    )


class BreweryForm(VerbForm):
    name = forms.CharField(label="Name of the brewery", max_length=120)
    address = forms.CharField(
        max_length=200, required=False, help_text="At the head of a release record."
    )
    time_zone = time_zone_field()
    volume_unit = forms.ChoiceField(label="Volumes in", choices=VolumeUnit.choices)
    temperature_unit = forms.ChoiceField(label="Temperatures in", choices=TemperatureUnit.choices)
    flow_unit = forms.ChoiceField(label="Flows in", choices=FlowUnit.choices)
    burette_ml = NumberField(
        label="Burette",
        unit="mL",
        low=1,
        high=100,
        help_text="What the titration burette holds. A larger reading is refused.",
    )

    def values(self) -> dict[str, Any]:
        """What the verb takes."""
        return {
            name: value
            for name, value in self.cleaned_data.items()
            if name not in ("key", "client_time")
        }

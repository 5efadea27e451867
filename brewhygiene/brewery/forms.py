"""The form of the brewery's own settings."""

from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery, FlowUnit, TemperatureUnit, VolumeUnit
from brewhygiene.brewery.time_zones import time_zone_choices
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.fields import NumberField, StoredQuantityField
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.refusals import Refusal


def time_zone_field() -> forms.ChoiceField:
    return forms.ChoiceField(
        label="Time zone",
        choices=time_zone_choices,
        help_text="Times are kept in UTC and shown in this one.",
        error_messages={"invalid_choice": "Choose one of the list."},
    )


class BreweryForm(ActionForm):
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


MOST_MONEY = 1_000_000


class PricePerVolumeField(StoredQuantityField):
    """Money per hL, typed and shown per the site's unit of volume."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(stored="hL", low=0, high=MOST_MONEY, required=False, **kwargs)

    def to_shown(self, value: float) -> float:
        return value * convert(1, self.shown, self.stored)

    def to_stored(self, value: float) -> float:
        return value / convert(1, self.shown, self.stored)


def _price(label: str, **kwargs: Any) -> NumberField:
    return NumberField(label=label, low=0, high=MOST_MONEY, required=False, **kwargs)


class PricesForm(ActionForm):
    """What a clean's cost follows from; what is left empty is not counted as money."""

    currency = forms.CharField(max_length=3, help_text="Three letters, as EUR, GBP or USD.")
    water_price_hl = PricePerVolumeField(label="Water")
    effluent_price_hl = PricePerVolumeField(label="Effluent by volume")
    load_price_kg_naoh = _price(
        "Effluent by load",
        help_text="Per kg of NaOH that would do the same as the acid or alkali let go; what "
        "neutralising it costs.",
    )
    energy_price_kwh = _price("Energy", help_text="As it is bought, for warming the solution.")
    minute_price = _price("Time", help_text="A minute of a clean: a person's, or the vessel's.")
    missed_tank_cost = _price(
        "A dirty vessel filled",
        help_text="What it loses on the whole: beer poured away, work, custom. A rough sum is "
        "better than none.",
    )
    needless_clean_cost = _price(
        "A clean vessel cleaned again",
        help_text="Water, agents, hours, and the vessel standing.",
    )
    supply_water_c = StoredQuantityField(
        label="Water as it comes",
        stored="C",
        low=0,
        high=40,
        help_text="Where warming starts; also the cold water of the tank-gas estimate.",
    )
    heat_percent = NumberField(
        label="Heat that reaches the solution",
        unit="%",
        low=10,
        high=100,
        help_text="Of the energy bought; the rest is lost in boiler, lines and steel.",
    )

    def __init__(self, *args: Any, brewery: Brewery, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        money = brewery.currency
        shown = {
            "water_price_hl": brewery.volume_unit,
            "effluent_price_hl": brewery.volume_unit,
            "supply_water_c": brewery.temperature_unit,
        }
        for name, unit in shown.items():
            field = self.fields[name]
            assert isinstance(field, StoredQuantityField)
            field.show_in(unit, kept=getattr(brewery, name))
        units = {
            "water_price_hl": LABELS[brewery.volume_unit],
            "effluent_price_hl": LABELS[brewery.volume_unit],
            "load_price_kg_naoh": "kg",
            "energy_price_kwh": "kWh",
            "minute_price": "min",
            "missed_tank_cost": "vessel",
            "needless_clean_cost": "clean",
        }
        for name, unit in units.items():
            field = self.fields[name]
            assert isinstance(field, NumberField)
            field.unit = field.widget.unit = f"{money} per {unit}"  # type: ignore[attr-defined]

    def refuse(self, refusal: Refusal) -> None:
        if refusal.field == "heat_efficiency":
            refusal = Refusal(refusal.message, field="heat_percent", code=refusal.code)
        super().refuse(refusal)

    def values(self) -> dict[str, Any]:
        """What the verb takes."""
        left_out = ("key", "client_time", "heat_percent")
        given = {name: v for name, v in self.cleaned_data.items() if name not in left_out}
        return {**given, "heat_efficiency": self.cleaned_data["heat_percent"] / 100}

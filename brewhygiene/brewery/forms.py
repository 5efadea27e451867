"""The form of the brewery's own settings."""

from typing import Any

from django import forms

from brewhygiene.brewery.models import Brewery, FlowUnit, TemperatureUnit, VolumeUnit
from brewhygiene.brewery.time_zones import time_zone_choices
from brewhygiene.certificates.addresses import preset_address
from brewhygiene.people.forms import ActionForm
from brewhygiene.quantities.fields import CountField, NumberField, StoredQuantityField
from brewhygiene.quantities.style import DATES, DECIMALS
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.refusals import Refusal


def time_zone_field() -> forms.ChoiceField:
    return forms.ChoiceField(
        label="Time zone",
        choices=time_zone_choices,
        help_text="All times are shown in this time zone.",
        error_messages={"invalid_choice": "Choose a time zone from the list."},
    )


USUAL = "Optional. Used for the end of a rinse on days without a reading of the supply."


class BreweryForm(ActionForm):
    name = forms.CharField(label="Name of the brewery", max_length=120)
    address = forms.CharField(
        max_length=200, required=False, help_text="Optional. Printed on each release record."
    )
    time_zone = time_zone_field()
    volume_unit = forms.ChoiceField(label="Volumes", choices=VolumeUnit.choices)
    temperature_unit = forms.ChoiceField(label="Temperatures", choices=TemperatureUnit.choices)
    flow_unit = forms.ChoiceField(label="Flows", choices=FlowUnit.choices)
    decimal_sign = forms.ChoiceField(label="Decimal sign", choices=list(DECIMALS.items()))
    date_style = forms.ChoiceField(label="Dates and times", choices=list(DATES.items()))
    burette_ml = NumberField(
        label="Burette",
        unit="mL",
        low=1,
        high=100,
        help_text="Volume of the titration burette. A larger reading is refused.",
    )
    supply_ph = NumberField(label="Usual pH", low=0, high=14, required=False, help_text=USUAL)
    supply_conductivity_ms_cm = NumberField(
        label="Usual conductivity", unit="mS/cm", low=0, high=10, required=False, help_text=USUAL
    )
    signs_out_after_min = CountField(
        label="Enrolled tablets sign out after",
        unit="min",
        low=1,
        high=240,
        required=False,
        help_text="Optional. Minutes without a touch. If blank, never. What was typed is kept.",
    )
    label_address = forms.CharField(
        label="Address printed on labels",
        max_length=200,
        required=False,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["label_address"].help_text = (
            "The server's address as every tablet reaches it. Labels printed before keep theirs. "
            f"Empty: {preset_address()}"
        )


MOST_MONEY = 1_000_000


class PricePerVolumeField(StoredQuantityField):
    """Money per hL, typed and shown per the brewery's unit of volume."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(stored="hL", low=0, high=MOST_MONEY, required=False, **kwargs)

    def to_shown(self, value: float) -> float:
        return value * convert(1, self.shown, self.stored)

    def to_stored(self, value: float) -> float:
        return value / convert(1, self.shown, self.stored)


def _price(label: str, **kwargs: Any) -> NumberField:
    return NumberField(label=label, low=0, high=MOST_MONEY, required=False, **kwargs)


class PricesForm(ActionForm):
    """What a clean's cost follows from; what is left blank is not counted as money."""

    currency = forms.CharField(max_length=3, help_text="Three letters, e.g. EUR.")
    water_price_hl = PricePerVolumeField(label="Water")
    effluent_price_hl = PricePerVolumeField(label="Effluent by volume")
    load_price_kg_naoh = _price(
        "Effluent by load",
        help_text="Optional. Cost of neutralising, per kg of NaOH equivalent.",
    )
    energy_price_kwh = _price(
        "Energy", help_text="Optional. Energy as bought, for heating the solution."
    )
    minute_price = _price("Time", help_text="Optional. Cost of one minute of a clean.")
    missed_tank_cost = _price(
        "A dirty vessel filled",
        help_text="Optional. Beer lost, work and customers. An estimate is enough.",
    )
    needless_clean_cost = _price(
        "A clean vessel re-cleaned",
        help_text="Optional. Water, agents, work and waiting time.",
    )
    supply_water_c = StoredQuantityField(
        label="Temperature of the water supply",
        stored="C",
        low=0,
        high=40,
        help_text="Start of heating. Also used for the tank gas estimate.",
    )
    heat_percent = NumberField(
        label="Heat that reaches the solution",
        unit="%",
        low=10,
        high=100,
        help_text="Share of the energy bought. The rest is lost.",
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

    @property
    def given(self) -> dict[str, Any]:
        """What the action takes: the share of heat as a fraction."""
        given = super().given
        given["heat_efficiency"] = given.pop("heat_percent") / 100
        return given

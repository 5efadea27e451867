"""Actions on the brewery's own settings."""

import re
from typing import TypedDict, Unpack

from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import time_zones
from brewhygiene.certificates.addresses import site_address
from brewhygiene.ledger.changes import change, refuse_invalid
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal

KEPT = [
    "name",
    "address",
    "time_zone",
    "volume_unit",
    "temperature_unit",
    "flow_unit",
    "decimal_sign",
    "date_style",
    "burette_ml",
    "supply_ph",
    "supply_conductivity_ms_cm",
    "signs_out_after_min",
    "label_address",
]


PRICES = [
    "currency",
    "water_price_hl",
    "effluent_price_hl",
    "load_price_kg_naoh",
    "energy_price_kwh",
    "minute_price",
    "missed_tank_cost",
    "needless_clean_cost",
    "supply_water_c",
    "heat_efficiency",
]


class BreweryValues(TypedDict, total=False):
    """What may be said of the brewery; stored figures keep their units whatever is shown."""

    name: str
    address: str
    time_zone: str
    volume_unit: str
    temperature_unit: str
    flow_unit: str
    decimal_sign: str
    date_style: str
    burette_ml: float
    supply_ph: float | None
    supply_conductivity_ms_cm: float | None
    signs_out_after_min: int | None
    label_address: str


class PriceValues(TypedDict, total=False):
    """What a cost follows from: money per unit or case, and where water and heat start."""

    currency: str
    water_price_hl: float | None
    effluent_price_hl: float | None
    load_price_kg_naoh: float | None
    energy_price_kwh: float | None
    minute_price: float | None
    missed_tank_cost: float | None
    needless_clean_cost: float | None
    supply_water_c: float
    heat_efficiency: float


def locked_brewery() -> Brewery:
    """The one row, locked to the end of the transaction, or an unsaved one. 1 query."""
    return Brewery.objects.select_for_update().filter(pk=1).first() or Brewery(
        pk=1, name="This brewery"
    )


def change_brewery(brewery: Brewery, values: BreweryValues | PriceValues) -> dict[str, object]:
    """Set and store; called inside an action, whose ledger entry tells what changed."""
    changed = change(brewery, **values)
    refuse_invalid(brewery)
    if brewery.time_zone not in time_zones():
        raise Refusal(
            "This server does not know that time zone. Choose one from the list.", field="time_zone"
        )
    brewery.save()
    return {**changed}


@action("edit brewery")
def edit_brewery(*, by: Actor, **values: Unpack[BreweryValues]) -> Recorded[Brewery]:
    """Change the brewery's name, place, time zone, shown units and style, burette, supply water."""
    require(by, "edit_setup", "manage_people")
    brewery = locked_brewery()
    if values.get("label_address"):
        try:
            values["label_address"] = site_address(values["label_address"])
        except ValueError as error:
            raise Refusal(str(error), field="label_address") from error
    return Recorded(brewery, change_brewery(brewery, values))


@action("edit prices")
def edit_prices(*, by: Actor, **values: Unpack[PriceValues]) -> Recorded[Brewery]:
    """Change the prices, what a wrong verdict costs, the water's temperature or heat's efficiency.

    A cost is calculated when it is looked at, so it follows at once, in the past too.
    """
    require(by, "edit_setup", "manage_people")
    brewery = locked_brewery()
    if "currency" in values:
        values["currency"] = values["currency"].strip().upper()
        if not re.fullmatch("[A-Z]{3}", values["currency"]):
            raise Refusal("Enter the three letters of the currency, e.g. EUR.", field="currency")
    return Recorded(brewery, change_brewery(brewery, values))

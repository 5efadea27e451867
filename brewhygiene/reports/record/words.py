"""Readings and times, as a record words them."""

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.regimes.measures import site_label, to_site
from brewhygiene.regimes.models import Quantity
from brewhygiene.turnarounds.models import StepReading


def reading_words(reading: StepReading, *, brewery: Brewery) -> str:
    """A reading as it was typed, with the brewery's own unit behind where that is another."""
    value = to_site(reading.value, quantity=reading.quantity, brewery=brewery)
    unit = site_label(quantity=reading.quantity, basis=reading.basis, brewery=brewery)
    if reading.quantity == Quantity.PH or value is None or reading.typed.endswith(unit):
        return reading.typed
    return f"{reading.typed} ({show_number(value)} {unit})"


def minutes_in_words(minutes: float) -> str:
    """Minutes, with hours from one hour on.

    >>> minutes_in_words(150)
    '2 h 30 min'
    """
    whole = round(minutes)
    if whole < 60:
        return f"{whole} min"
    return f"{whole // 60} h {whole % 60} min" if whole % 60 else f"{whole // 60} h"

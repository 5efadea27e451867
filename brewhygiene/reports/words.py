"""Readings and how they were found, as a record words them."""

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.regimes.measures import UNIT_OF, site_label, to_site
from brewhygiene.regimes.models import Quantity, StepWindow
from brewhygiene.turnarounds.models import StepReading


def reading_words(reading: StepReading, *, brewery: Brewery) -> str:
    """A reading as it was typed, with the brewery's own unit behind where that is another."""
    value = to_site(reading.value, quantity=reading.quantity, brewery=brewery)
    unit = site_label(quantity=reading.quantity, basis=reading.basis, brewery=brewery)
    if reading.quantity == Quantity.PH or value is None or reading.typed.endswith(unit):
        return reading.typed
    return f"{reading.typed} ({show_number(value)} {unit})"


def method_words(reading: StepReading, *, window: StepWindow | None) -> str:
    """How a strength was found, and on which other basis it was judged; '' for the rest."""
    parts = []
    if reading.titration:
        titrant, normality, sample = (
            show_number(float(reading.titration[name]))
            for name in ("titrant_ml", "titrant_normality", "sample_ml")
        )
        parts.append(f"titrated: {titrant} mL of {normality} N in {sample} mL of sample")
    if (
        window is not None
        and reading.judged_value is not None
        and reading.basis
        and window.basis != reading.basis
    ):
        parts.append(f"judged as {show_number(reading.judged_value)} {UNIT_OF[window.basis]}")
    return "; ".join(parts)


def minutes_in_words(minutes: float) -> str:
    """Minutes, with hours from one hour on.

    >>> minutes_in_words(150)
    '2 h 30 min'
    """
    whole = round(minutes)
    if whole < 60:
        return f"{whole} min"
    return f"{whole // 60} h {whole % 60} min" if whole % 60 else f"{whole // 60} h"

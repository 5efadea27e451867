"""Stored trade units and the site's choice of shown units, through pint."""

from functools import lru_cache
from typing import Any


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint  # slow to import: only when a unit is first converted

    return pint.UnitRegistry()


_PINT_NAMES = {
    "L": "liter",
    "hL": "hectoliter",
    "bbl": "beer_barrel",
    "gal": "gallon",
    "C": "degree_Celsius",
    "F": "degree_Fahrenheit",
    "L/min": "liter / minute",
    "hL/h": "hectoliter / hour",
    "gpm": "gallon / minute",
    "m": "meter",
    "in": "inch",
}
LABELS = {
    "L": "L",
    "hL": "hL",
    "bbl": "bbl",
    "gal": "US gal",
    "C": "°C",
    "F": "°F",
    "L/min": "L/min",
    "hL/h": "hL/h",
    "gpm": "US gpm",
    "m": "m",
    "in": "in",
}


@lru_cache(maxsize=64)
def _line(from_unit: str, to_unit: str) -> tuple[float, float]:
    """Slope and offset of a conversion: all of ours are straight lines."""
    quantity = _registry().Quantity
    source, target = _PINT_NAMES[from_unit], _PINT_NAMES[to_unit]
    at_0 = float(quantity(0.0, source).to(target).magnitude)
    at_100 = float(quantity(100.0, source).to(target).magnitude)
    return (at_100 - at_0) / 100, at_0


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """``value`` of ``from_unit`` in ``to_unit``; units are the keys of ``LABELS``.

    Raises ``KeyError`` for an unknown unit and pint's ``DimensionalityError`` for a mismatch.
    A US beer barrel is 31 US gallons.

    >>> round(convert(1, "bbl", "hL"), 5)
    1.17348
    """
    if from_unit == to_unit:
        return value
    slope, offset = _line(from_unit, to_unit)
    return value * slope + offset

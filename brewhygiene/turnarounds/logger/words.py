"""What a logger file says, in words and in the site's units."""

import dataclasses
import zoneinfo
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, TypeVar

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import shown_moment
from brewhygiene.regimes.measures import site_label, to_site
from brewhygiene.regimes.models import Basis, Quantity
from brewhygiene.science.logger.units import QUANTITIES

T = TypeVar("T")


def in_order(by_quantity: Mapping[str, T]) -> dict[str, T]:
    """What is kept by quantity, in one fixed order: PostgreSQL keeps none in what it stores."""
    order = [quantity for quantity in Quantity.values if quantity in by_quantity]
    rest = sorted(by_quantity.keys() - set(order))
    return {quantity: by_quantity[quantity] for quantity in (*order, *rest)}


def logged_unit(quantity: str, brewery: Brewery) -> str:
    """The unit in which the site reads a logged quantity; '' for pH."""
    if quantity == Quantity.PH:
        return ""
    basis = Basis.WW if quantity == Quantity.CONCENTRATION else ""
    return site_label(quantity=quantity, basis=basis, brewery=brewery) or QUANTITIES[quantity].unit


def logged_title(quantity: str) -> str:
    """A logged quantity's name, as it begins a line: 'pH', 'Temperature'."""
    label = QUANTITIES[quantity].label
    return label if quantity == Quantity.PH else label.capitalize()


def in_site_unit(value: float, *, quantity: str, brewery: Brewery) -> float:
    """A logged value, kept in the unit of its quantity, in the site's."""
    shown = to_site(value, quantity=quantity, brewery=brewery)
    return value if shown is None else shown


def logged_value(value: float, *, quantity: str, brewery: Brewery) -> str:
    """A logged value with its unit, as the site reads it: '74.2 °C'."""
    shown = in_site_unit(value, quantity=quantity, brewery=brewery)
    return f"{show_number(shown, significant=3)} {logged_unit(quantity, brewery)}".strip()


def logged_range(least: float, greatest: float, *, quantity: str, brewery: Brewery) -> str:
    """Least and greatest with their unit once: '15.6 to 75.4 °C'."""
    low, high = (
        show_number(in_site_unit(value, quantity=quantity, brewery=brewery), significant=3)
        for value in (least, greatest)
    )
    number = low if low == high else f"{low} to {high}"
    return f"{number} {logged_unit(quantity, brewery)}".strip()


@dataclasses.dataclass(frozen=True)
class LoggerClock:
    """When a second of a logger_file was: on the site's clock, or as minutes of the file."""

    starts_at: datetime | None

    def at(self, seconds: float) -> datetime | None:
        return None if self.starts_at is None else self.starts_at + timedelta(seconds=seconds)

    def words(self, seconds: float) -> str:
        """'10:06', with its day if another than the file's first; 'minute 6.5' without dates."""
        moment = self.at(seconds)
        if self.starts_at is None or moment is None:
            return f"minute {show_number(round(seconds / 60, 1))}"
        if moment.date() == self.starts_at.date():
            return f"{shown_moment(moment, 'H:i')}"
        return f"{shown_moment(moment, 'j M H:i')}"

    def span_words(self, from_s: float, until_s: float) -> str:
        """'10:06 to 10:31'."""
        return f"{self.words(from_s)} to {self.words(until_s)}"


def clock_of_logger_file(evaluation: dict[str, Any], brewery: Brewery) -> LoggerClock:
    """The clock of a kept evaluation, in the brewery's zone."""
    kept = evaluation["starts_at"]
    if kept is None:
        return LoggerClock(None)
    return LoggerClock(
        datetime.fromisoformat(kept).astimezone(zoneinfo.ZoneInfo(brewery.time_zone))
    )

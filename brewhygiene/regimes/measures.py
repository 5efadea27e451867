"""Units of what windows bound and readings measure, in stored and in shown form."""

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.regimes.drafts import WindowDraft
from brewhygiene.regimes.models import Basis, Quantity, StepWindow

UNIT_OF: dict[str, str] = {
    Quantity.TEMPERATURE_C: "°C",
    Quantity.TIME_MIN: "min",
    Quantity.FLOW_L_MIN: "L/min",
    Quantity.VELOCITY_M_S: "m/s",
    Quantity.PH: "pH",
    Quantity.CONDUCTIVITY_MS_CM: "mS/cm",
    Quantity.CO2_PCT: "%",
    Quantity.AIR_M3_H: "m³/h",
    Basis.WW: "% w/w",
    Basis.WV: "% w/v",
    Basis.VV: "% v/v",
    Basis.MG_L: "mg/L",
}

# What cannot be, whatever the regime says: such a number is a slip of the finger.
PLAUSIBLE: dict[str, tuple[float, float]] = {
    Quantity.TEMPERATURE_C: (-10, 150),
    Quantity.TIME_MIN: (0, 48 * 60),
    Quantity.FLOW_L_MIN: (0, 20_000),
    Quantity.VELOCITY_M_S: (0, 20),
    Quantity.PH: (0, 14),
    Quantity.CONDUCTIVITY_MS_CM: (0, 1500),
    Quantity.CO2_PCT: (0, 100),
    Quantity.AIR_M3_H: (0, 10_000),
    Basis.WW: (0, 60),
    Basis.WV: (0, 90),
    Basis.VV: (0, 100),
    Basis.MG_L: (0, 50_000),
}

STORED_UNIT: dict[str, str] = {Quantity.TEMPERATURE_C: "C", Quantity.FLOW_L_MIN: "L/min"}


def measure_key(*, quantity: str, basis: str) -> str:
    """The key of ``UNIT_OF`` and ``PLAUSIBLE``: the basis where there is one."""
    return basis if quantity == Quantity.CONCENTRATION else quantity


def _site_unit(quantity: str, brewery: Brewery) -> str | None:
    match quantity:
        case Quantity.TEMPERATURE_C:
            return brewery.temperature_unit
        case Quantity.FLOW_L_MIN:
            return brewery.flow_unit
    return None


def site_label(*, quantity: str, basis: str = "", brewery: Brewery) -> str:
    """The unit in which the site reads a quantity; empty for a strength without its basis."""
    unit = _site_unit(quantity, brewery)
    if unit is not None:
        return LABELS[unit]
    return UNIT_OF.get(measure_key(quantity=quantity, basis=basis), "")


def to_site(value: float | None, *, quantity: str, brewery: Brewery) -> float | None:
    """A stored value in the site's unit: temperature from °C, flow from L/min, others as is."""
    unit = _site_unit(quantity, brewery)
    if value is None or unit is None:
        return value
    return convert(value, STORED_UNIT[quantity], unit)


def from_site(value: float | None, *, quantity: str, brewery: Brewery) -> float | None:
    """A value in the site's unit as it is stored: the reverse of :func:`to_site`."""
    unit = _site_unit(quantity, brewery)
    if value is None or unit is None:
        return value
    return convert(value, unit, STORED_UNIT[quantity])


def window_in_words(window: StepWindow | WindowDraft, brewery: Brewery) -> str:
    """A window in the site's units, as '1.5 to 3 % w/w, target 2' or 'at least 80 °C'."""
    quantity = window.quantity

    def shown(value: float | None) -> str:
        inner = to_site(value, quantity=quantity, brewery=brewery)
        return "" if inner is None else show_number(inner)

    unit = site_label(quantity=quantity, basis=window.basis, brewery=brewery)
    minimum, target, maximum = window.minimum, window.target, window.maximum
    if minimum is not None and maximum is not None:
        words = f"{shown(minimum)} to {shown(maximum)}"
    elif minimum is not None:
        words = f"at least {shown(minimum)}"
    else:
        words = f"at most {shown(maximum)}"
    words = f"{words} {unit if quantity != Quantity.PH else ''}".strip()
    return words if target in (None, minimum, maximum) else f"{words}, target {shown(target)}"

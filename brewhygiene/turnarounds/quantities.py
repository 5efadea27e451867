"""A reading's units, plausibility, titration and its value on the window's basis."""

import dataclasses
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import digits, told
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.conductivity.calibration import (
    ReadByConductivity,
    calibration_in_force,
    strength_by_conductivity,
)
from brewhygiene.regimes.measures import PLAUSIBLE, site_label, to_site
from brewhygiene.regimes.measures import UNIT_OF as UNIT_OF
from brewhygiene.regimes.models import Agent, Basis, Quantity, StepWindow
from brewhygiene.science.solutions.density import OutOfRange
from brewhygiene.science.solutions.strength import (
    EQUIVALENT_WEIGHT_G,
    NotConvertible,
    convert_strength,
    titrated_strength_wv,
)
from brewhygiene.science.tank.indicators import INDICATORS


def show_value(value: float, *, quantity: str, basis: str, brewery: Brewery) -> str:
    """A stored value with its unit, as this brewery reads it."""
    shown = to_site(value, quantity=quantity, brewery=brewery)
    number = show_number(value if shown is None else shown)
    if quantity == Quantity.PH:
        return f"pH {number}"
    return f"{number} {site_label(quantity=quantity, basis=basis, brewery=brewery)}"


def minutes_words(minutes: float) -> str:
    """Minutes to a tenth: '12.5 min'."""
    return f"{show_number(round(minutes, 1))} min"


def quantity_title(quantity: str, shown: str = "") -> str:
    """A quantity's name at the start of a sentence, with a value where one is shown.

    >>> quantity_title("temperature_c", "75 °C"), quantity_title("ph", "pH 7")
    ('Temperature 75 °C', 'pH 7')
    """
    if quantity == Quantity.PH:
        return shown or "pH"
    label = Quantity(quantity).label
    return f"{label[0].upper()}{label[1:]} {shown}".rstrip()


def check_plausible(*, quantity: str, value: float, basis: str, brewery: Brewery) -> None:
    """Refuse a number that cannot be; ``value`` in the stored unit of its quantity or basis."""
    if quantity == Quantity.CONCENTRATION and basis not in Basis.values:
        raise Refusal("Choose a basis: % w/w, % w/v, % v/v or mg/L.", field="basis")
    key = basis if quantity == Quantity.CONCENTRATION else quantity
    low, high = PLAUSIBLE[key]
    if not low <= value <= high:
        shown, least, most = (
            show_value(number, quantity=quantity, basis=basis, brewery=brewery)
            for number in (value, low, high)
        )
        raise Refusal(
            f"{shown} is not possible. Enter {least} to {most}.",
            field="value",
            code="implausible",
        )


TITRATION, CONDUCTIVITY, INDICATOR = "titration", "conductivity", "indicator"


@dataclasses.dataclass(frozen=True)
class Colour:
    """The colour of an indicator: a range of pH, not a number."""

    indicator: str
    colour: str

    def range_ph(self) -> tuple[float, float]:
        """Lowest and highest pH. Refuses an indicator or a colour that there is not."""
        indicator = INDICATORS.get(self.indicator)
        if indicator is None or self.colour not in indicator.colours:
            raise Refusal("Choose a colour.", field="colour", code="no_colour")
        return indicator.range_of(self.colour)

    @property
    def value(self) -> float:
        """The pH kept beside the range: its bound, or its middle where it has two."""
        low, high = self.range_ph()
        return high if low == 0 else low if high == 14 else round((low + high) / 2, 2)

    @property
    def words(self) -> str:
        """As 'pH below 8.2 (phenolphthalein, colourless)'."""
        low, high = self.range_ph()
        shown = f"below {digits(high, 'g')}" if low == 0 else f"above {digits(low, 'g')}"
        if low > 0 and high < 14:
            shown = f"{digits(low, 'g')} to {digits(high, 'g')}"
        return f"pH {shown} ({INDICATORS[self.indicator].name}, {self.colour})"

    def as_kept(self) -> dict[str, Any]:
        """As a reading keeps it."""
        low, high = self.range_ph()
        return {"method": INDICATOR, **dataclasses.asdict(self), "low": low, "high": high}


@dataclasses.dataclass(frozen=True)
class MeterReading:
    """What a conductivity meter showed: mS/cm as measured, not compensated, at °C."""

    conductivity_ms_cm: float
    temperature_c: float

    def strength(self, agent: Agent) -> ReadByConductivity:
        """The agent's strength by the calibration in force, or as published. 1 query."""
        return strength_by_conductivity(
            agent=agent,
            calibration=calibration_in_force(agent),
            conductivity_ms_cm=self.conductivity_ms_cm,
            temperature_c=self.temperature_c,
        )

    def as_kept(self, found: ReadByConductivity) -> dict[str, Any]:
        """As a reading keeps it, with by which calibration and how far it may be off."""
        return {
            "method": CONDUCTIVITY,
            **dataclasses.asdict(self),
            "calibration": found.calibration,
            "within": found.within,
        }


@dataclasses.dataclass(frozen=True)
class Titration:
    """The volumes of a one-end-point titration: titrant and sample in mL, titrant in eq/L."""

    titrant_ml: float
    titrant_normality: float
    sample_ml: float

    def as_kept(self) -> dict[str, Any]:
        """As a reading keeps it."""
        return {"method": TITRATION, **dataclasses.asdict(self)}

    def strength_wv(self, *, agent: Agent, burette_ml: float) -> float:
        """Strength in % w/v of the agent's active substance.

        Refuses a volume beyond the burette, or an agent without an equivalent weight.
        """
        if self.titrant_ml < 0:
            raise Refusal("Enter a volume of 0 or more.", field="titrant_ml")
        if self.titrant_ml > burette_ml:
            with told():
                raise Refusal(
                    f"{show_number(self.titrant_ml)} mL is more than the burette measures "
                    f"({show_number(burette_ml)} mL). Titrate a smaller sample.",
                    field="titrant_ml",
                    code="beyond_burette",
                )
        if self.titrant_normality <= 0:
            raise Refusal("Enter a titrant strength above 0.", field="titrant_normality")
        if self.sample_ml <= 0:
            raise Refusal("Enter a sample volume above 0.", field="sample_ml")
        equivalent = agent.equivalent_weight_g or EQUIVALENT_WEIGHT_G.get(agent.active_substance)
        if equivalent is None:
            raise Refusal(
                f"{agent.name} has no equivalent weight, so its titration cannot be "
                "calculated. Enter the strength, or set the equivalent weight with the agent.",
                field="titrant_ml",
            )
        return titrated_strength_wv(
            equivalent_weight_g=equivalent,
            titrant_ml=self.titrant_ml,
            titrant_normality=self.titrant_normality,
            sample_ml=self.sample_ml,
        )


def on_window_basis(*, value: float, basis: str, window: StepWindow, agent: Agent | None) -> float:
    """A reading's value on its window's basis; refused on ``basis`` where it cannot be."""
    if window.quantity != Quantity.CONCENTRATION or basis == window.basis:
        return value
    if agent is None:
        raise Refusal(
            f"Enter the strength in {UNIT_OF[window.basis]}, as in the regime.", field="basis"
        )
    try:
        return convert_strength(
            value=value,
            basis=basis,
            to_basis=window.basis,
            substance=agent.active_substance,
            product_strength_ww=agent.concentrate_strength_ww,
            product_density_kg_l=agent.concentrate_density_kg_l,
        )
    except (NotConvertible, OutOfRange) as error:
        raise Refusal(
            f"{error} Enter the strength in {UNIT_OF[window.basis]}, as in the regime.",
            field="basis",
            code="not_convertible",
        ) from error

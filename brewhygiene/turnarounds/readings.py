"""A reading's units, plausibility, titration and its value on the window's basis."""

import dataclasses

from brewhygiene.quantities.parsing import show_number
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.measures import PLAUSIBLE
from brewhygiene.regimes.measures import UNIT_OF as UNIT_OF
from brewhygiene.regimes.models import Agent, Basis, Quantity, StepWindow
from brewhygiene.science.density import OutOfRange
from brewhygiene.science.strength import (
    EQUIVALENT_WEIGHT_G,
    NotConvertible,
    convert_strength,
    titrated_strength_wv,
)


def check_plausible(*, quantity: str, value: float, basis: str) -> None:
    """Refuse a number that cannot be, in the unit of its quantity or basis."""
    if quantity == Quantity.CONCENTRATION and basis not in Basis.values:
        raise Refusal(
            "A strength needs its basis: choose % w/w, % w/v, % v/v or mg/L.", field="basis"
        )
    key = basis if quantity == Quantity.CONCENTRATION else quantity
    low, high = PLAUSIBLE[key]
    if not low <= value <= high:
        unit = UNIT_OF[key]
        shown = show_number(value)
        raise Refusal(
            f"{shown} {unit} cannot be. It should lie between {show_number(low)} and "
            f"{show_number(high)} {unit}.",
            field="value",
            code="implausible",
        )


def show_reading(*, quantity: str, value: float, basis: str) -> str:
    """A reading with its unit, as a person reads it."""
    key = basis if quantity == Quantity.CONCENTRATION else quantity
    if key == Quantity.PH:
        return f"pH {show_number(value)}"
    return f"{show_number(value)} {UNIT_OF[key]}"


@dataclasses.dataclass(frozen=True)
class Titration:
    """The volumes of a one-end-point titration: titrant and sample in mL, titrant in eq/L."""

    titrant_ml: float
    titrant_normality: float
    sample_ml: float

    def strength_wv(self, *, agent: Agent, burette_ml: float) -> float:
        """Strength in % w/v of the agent's active substance.

        Refuses a volume beyond the burette, or an agent without an equivalent weight.
        """
        if self.titrant_ml < 0:
            raise Refusal("A volume cannot be below 0.", field="titrant_ml")
        if self.titrant_ml > burette_ml:
            raise Refusal(
                f"{show_number(self.titrant_ml)} mL is more than the burette holds "
                f"({show_number(burette_ml)} mL). Take a smaller sample.",
                field="titrant_ml",
                code="beyond_burette",
            )
        if self.titrant_normality <= 0:
            raise Refusal("The titrant's strength is above 0.", field="titrant_normality")
        if self.sample_ml <= 0:
            raise Refusal("The sample's volume is above 0.", field="sample_ml")
        equivalent = agent.equivalent_weight_g or EQUIVALENT_WEIGHT_G.get(agent.active_substance)
        if equivalent is None:
            raise Refusal(
                f"{agent.name} has no equivalent weight set, so its titration cannot be worked "
                "out. Type the strength itself.",
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
            f"Give the strength in {UNIT_OF[window.basis]}, as the regime does.", field="basis"
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
            f"{error} Give the strength in {UNIT_OF[window.basis]}, as the regime does.",
            field="basis",
            code="not_convertible",
        ) from error

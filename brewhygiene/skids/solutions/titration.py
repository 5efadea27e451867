"""A titration of a solution in its tank: free caustic and carbonate, or acid by one end point."""

import dataclasses
from typing import Any

from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import told
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import ActiveSubstance, Agent
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.strength import EQUIVALENT_WEIGHT_G
from brewhygiene.science.solutions.titration import TitrationSetup, one_end_point
from brewhygiene.science.solutions.two_end_points import used_caustic

# What takes up CO2 and is titrated to two end points.
ALKALIS = (ActiveSubstance.NAOH, ActiveSubstance.KOH)


@dataclasses.dataclass(frozen=True)
class TwoEndPoints:
    """What the burette gave: mL to the first end point and, from the start, to the second.

    ``second_ml`` is ``None`` where only one was titrated. ``titrant_eq_l`` in eq/L.
    """

    first_ml: float
    titrant_eq_l: float
    sample_ml: float
    second_ml: float | None = None

    def as_kept(self) -> dict[str, Any]:
        """As the record keeps it."""
        return {"method": "titration", **dataclasses.asdict(self)}


@dataclasses.dataclass(frozen=True)
class Titrated:
    """Strength and carbonate in % w/v, and the share of the alkalinity that is carbonate, %."""

    strength_wv: float
    carbonate_wv: float | None = None
    carbonate_percent: float | None = None


def takes_two(agent: Agent) -> bool:
    """Whether a titration of an agent has a second end point, to methyl orange."""
    return agent.active_substance in ALKALIS


def titrated(given: TwoEndPoints, *, agent: Agent, burette_ml: float) -> Titrated:
    """What a titration says. Refuses beyond the burette, or what cannot be calculated."""
    for field, volume in (("first_ml", given.first_ml), ("second_ml", given.second_ml)):
        if volume is None:
            continue
        if volume < 0:
            raise Refusal("Enter a volume of 0 or more.", field=field)
        if volume > burette_ml:
            with told():
                raise Refusal(
                    f"{show_number(volume)} mL is more than the burette measures "
                    f"({show_number(burette_ml)} mL). Titrate a smaller sample.",
                    field=field,
                    code="beyond_burette",
                )
    if given.titrant_eq_l <= 0:
        raise Refusal("Enter a titrant strength above 0.", field="titrant_eq_l")
    if given.sample_ml <= 0:
        raise Refusal("Enter a sample volume above 0.", field="sample_ml")
    try:
        setup = TitrationSetup(given.titrant_eq_l, sample_ml=given.sample_ml)
        if given.second_ml is not None and takes_two(agent):
            return _two(setup, given.first_ml, given.second_ml, agent)
        return _one(setup, given.first_ml, agent)
    except OutOfRange as refused:
        field = "second_ml" if given.second_ml is not None else "first_ml"
        raise Refusal(str(refused), field=field, code="not_possible") from refused


def _two(setup: TitrationSetup, first_ml: float, second_ml: float, agent: Agent) -> Titrated:
    used = used_caustic(
        setup=setup,
        first_reading=first_ml,
        second_reading=second_ml,
        alkali="KOH" if agent.active_substance == ActiveSubstance.KOH else "NaOH",
    )
    return Titrated(used.hydroxide.percent, used.carbonate.percent, used.carbonate_share_percent)


def _one(setup: TitrationSetup, first_ml: float, agent: Agent) -> Titrated:
    equivalent = agent.equivalent_weight_g or EQUIVALENT_WEIGHT_G.get(agent.active_substance)
    if equivalent is None:
        raise Refusal(
            f"{agent.name} has no equivalent weight, so its titration cannot be calculated. Enter "
            "the strength, or set the equivalent weight with the agent.",
            field="first_ml",
            code="no_equivalent",
        )
    found = one_end_point(
        setup=setup,
        substance=agent.active_substance,
        reading=first_ml,
        equivalent_weight_g=equivalent,
    )
    return Titrated(found.found.percent)

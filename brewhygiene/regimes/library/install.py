"""Bringing in the starting agents and regimes: those whose name is not taken yet."""

import dataclasses
from collections.abc import Iterable

from django.db import transaction

from brewhygiene.ledger.recording import Actor
from brewhygiene.regimes.actions import create_regime, save_agent
from brewhygiene.regimes.library.agents import AGENTS
from brewhygiene.regimes.library.regimes import REGIMES, StartingRegime
from brewhygiene.regimes.models import Agent, Regime


@dataclasses.dataclass(frozen=True)
class Installed:
    """What was not there before."""

    agents: list[Agent]
    regimes: list[Regime]


@transaction.atomic
def install_library(*, by: Actor, password: str) -> Installed:
    """Bring in every starting agent and regime whose name is free; the rest is left as it is.

    Each goes through its own action, which signs for a regime, and leaves its own entry. Raises
    :class:`~brewhygiene.refusals.NotAllowed` when the role may not edit the set-up, and
    :class:`~brewhygiene.regimes.actions.RegimeRefused` where a site has changed an agent of the
    library so that a starting regime may no longer be run as it stands.
    """
    known = {agent.name.casefold(): agent for agent in Agent.objects.all()}
    added_agents = []
    for values in AGENTS:
        if values.name.casefold() not in known:
            added_agents.append(save_agent(by=by.inner(), values=values))
    known |= {agent.name.casefold(): agent for agent in added_agents}
    agents = {values.name: known[values.name.casefold()] for values in AGENTS}
    taken = Regime.objects.values_list("name", flat=True)
    added_regimes = [
        create_regime(
            by=by.inner(),
            password=password,
            about=starting.about,
            steps=starting.steps(agents),
            provenance=starting.provenance,
            shipped=True,
        )
        for starting in missing_regimes(taken)
    ]
    return Installed(agents=added_agents, regimes=added_regimes)


def missing_regimes(taken: Iterable[str]) -> list[StartingRegime]:
    """The starting regimes whose name is not among those taken."""
    names = {name.casefold() for name in taken}
    return [starting for starting in REGIMES if starting.about.name.casefold() not in names]

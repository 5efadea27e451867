"""Bringing in the starting agents and regimes, and taking the shipped wording of one."""

import dataclasses
from collections.abc import Iterable

from django.db import transaction

from brewhygiene.ledger.recording import Actor
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.about import About
from brewhygiene.regimes.actions import create_regime, save_agent, save_regime_version
from brewhygiene.regimes.library.agents import AGENTS
from brewhygiene.regimes.library.differences import differences, starting_of
from brewhygiene.regimes.library.regimes import REGIMES, StartingRegime
from brewhygiene.regimes.models import Agent, Regime, RegimeVersion
from brewhygiene.regimes.queries import versions_with_steps

TAKEN = "Shipped wording taken"


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
    agents, added_agents = _agents(by)
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


def _agents(by: Actor) -> tuple[dict[str, Agent], list[Agent]]:
    """The agents of the library by its names for them, and those that were not there before."""
    known = {agent.name.casefold(): agent for agent in Agent.objects.all()}
    added = []
    for values in AGENTS:
        if values.name.casefold() not in known:
            added.append(save_agent(by=by.inner(), values=values))
    known |= {agent.name.casefold(): agent for agent in added}
    return {values.name: known[values.name.casefold()] for values in AGENTS}, added


@transaction.atomic
def take_shipped(*, by: Actor, regime: Regime, password: str, seen: str) -> RegimeVersion:
    """Give a regime the wording that is shipped now, as the editor would: a version that was used
    stays, and the next one has it.

    Its name, its strength and the kinds of vessel that a site added stay as they are. ``seen`` is
    the :func:`~brewhygiene.regimes.actions.content_mark` of what was compared.
    """
    starting = starting_of(regime)
    if starting is None:
        raise Refusal(f"{regime.name} is no starting regime.", code="not_shipped")
    agents, _ = _agents(by)
    current = versions_with_steps().get(regime=regime, current=True)
    if not differences(current, starting, str):
        raise Refusal(f"{regime.name} has the shipped wording already.", code="same")
    about = About.of(regime)
    kinds = [*about.vessel_kinds, *starting.about.vessel_kinds]
    return save_regime_version(
        by=by.inner(),
        regime=regime,
        about=dataclasses.replace(about, vessel_kinds=kinds),
        steps=starting.steps(agents),
        password=password,
        change_note=TAKEN,
        provenance=starting.provenance,
        seen=seen,
    )


def missing_regimes(taken: Iterable[str]) -> list[StartingRegime]:
    """The starting regimes whose name is not among those taken."""
    names = {name.casefold() for name in taken}
    return [starting for starting in REGIMES if starting.about.name.casefold() not in names]

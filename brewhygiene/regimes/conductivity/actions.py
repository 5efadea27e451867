"""Actions of a site's own conductivity calibrations."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.conductivity.calibration import Pair, as_kept, fitted
from brewhygiene.regimes.models import Agent, ConductivityCalibration


@action("save calibration")
def save_calibration(
    *, by: Actor, agent: Agent, pairs: Sequence[Pair], basis: str
) -> Recorded[ConductivityCalibration]:
    """Fit pairs and put the calibration in force; the one before it is retired and kept.

    The pairs' strengths are on ``basis``, their conductivities in mS/cm, temperatures in °C.
    """
    user = require(by, "edit_setup")
    agent = Agent.objects.select_for_update().get(pk=agent.pk)
    fit = fitted(pairs, basis=basis)
    before = _retire(agent, by)
    kept = ConductivityCalibration.objects.create(
        agent=agent,
        pairs=[dataclasses.asdict(pair) for pair in pairs],
        fit=as_kept(fit, basis=basis),
        made_at=by.now,
        made_by=user,
    )
    return Recorded(
        kept,
        {"agent": agent.name, "pairs": kept.pairs, "fit": kept.fit, "retired": before},
        aggregate=agent,
    )


@action("retire calibration")
def retire_calibration(*, by: Actor, agent: Agent) -> Recorded[ConductivityCalibration]:
    """Take the calibration out of force with none in its place; it is kept."""
    require(by, "edit_setup")
    agent = Agent.objects.select_for_update().get(pk=agent.pk)
    retired = _retire(agent, by)
    if retired is None:
        raise Refusal("There is no calibration in force to retire.", code="none_in_force")
    return Recorded(
        ConductivityCalibration.objects.get(pk=retired), {"agent": agent.name}, aggregate=agent
    )


def _retire(agent: Agent, by: Actor) -> int | None:
    """Retire what is in force and give its primary key."""
    in_force = agent.calibrations.filter(retired_at__isnull=True).first()
    if in_force is None:
        return None
    in_force.retired_at = by.now
    in_force.save(update_fields=["retired_at"])
    return in_force.pk

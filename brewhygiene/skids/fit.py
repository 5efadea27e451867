"""What an agent or a step does to a skid, a hose or a tank: their walls and their seals."""

from collections.abc import Iterable

from brewhygiene.refusals import Refusal
from brewhygiene.regimes.materials.fit import findings_on, meeting_words
from brewhygiene.regimes.materials.labels import Labels
from brewhygiene.regimes.materials.meetings import meeting_of
from brewhygiene.regimes.materials.table import Verdict, basis_of, verdict_on
from brewhygiene.regimes.models import Agent, Step
from brewhygiene.science.solutions.density import OutOfRange
from brewhygiene.science.solutions.strength import NotConvertible, convert_strength
from brewhygiene.skids.models import Skid, SolutionTank


def harms_to_skid(skid: Skid, steps: Iterable[Step], labels: Labels | None = None) -> list[str]:
    """What each step does to a skid or a hose that it must not; limits are not told.

    1 query for all steps and skids with the same ``labels``, only where something is unfit.
    """
    labels = labels or Labels()
    parts = [(f"skid_{skid.pk}", skid.name, skid.material)]
    parts.append((f"skid_seals_{skid.pk}", f"A seal of {skid.name}", skid.seal_material))
    return [
        f"{finding.part} is unfit. {finding.words}."
        for step in steps
        for finding in findings_on(step, parts, labels)
        if finding.refused
    ]


def refuse_unfit_tank(tank: SolutionTank, agent: Agent, *, strength: float, basis: str) -> None:
    """Refuse an agent that a tank's wall must not contain at this strength. 1 query at most."""
    try:
        converted: float | None = convert_strength(
            value=strength,
            basis=basis,
            to_basis=basis_of(agent.active_substance),
            substance=agent.active_substance,
            product_strength_ww=agent.concentrate_strength_ww,
            product_density_kg_l=agent.concentrate_density_kg_l,
        )
    except (NotConvertible, OutOfRange):
        converted = None
    judged = verdict_on(
        substance=agent.active_substance, material=tank.material, strength=converted
    )
    if judged is None or judged.verdict != Verdict.NOT:
        return
    if not judged.row.gas and Labels().that_allows(agent, tank.material, converted):
        return
    raise Refusal(
        f"{tank.name} is {tank.get_material_display()}, which {agent.name} harms: "
        f"{judged.row.limit}. Source: {judged.row.source_words}. Choose another agent or tank.",
        field="agent",
        code="unfit_material",
    )


def refuse_meeting_in_tank(tank: SolutionTank, agent: Agent, left: Iterable[Agent]) -> None:
    """Refuse an agent that must not meet one that no proved rinse has taken out. 0 queries."""
    for before in left:
        meeting = meeting_of(before.active_substance, agent.active_substance)
        if meeting is not None and meeting.refused:
            raise Refusal(
                f"{tank.name} last contained {before.name} and was not rinsed. "
                f"{meeting_words(before, agent)} Rinse the tank and record the rinse first.",
                field="agent",
                code="agents_meet",
            )

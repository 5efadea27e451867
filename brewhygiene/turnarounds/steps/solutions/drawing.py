"""Which solution a step draws: from a tank of the skid that it runs on, or made up for it."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Step
from brewhygiene.skids.models import Solution
from brewhygiene.skids.queries import standing_solutions, states_of
from brewhygiene.skids.state import SolutionState
from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.progress import StepProgress

FRESH = "fresh"


def offered_solutions(clean: Clean, step: Step, *, now: datetime) -> list[SolutionState]:
    """Solutions of the step's agent in the tanks of its skid.

    0 queries without a skid or an agent, 1 where no tank contains it, else 7 at most.
    """
    if clean.skid is None or step.agent is None:
        return []
    return states_of(standing_solutions(clean.skid).filter(agent=step.agent), now=now)


def usual_solution(states: Sequence[SolutionState], item: StepProgress, clean: Clean) -> str:
    """What is chosen before anybody chooses: the key of a solution, or ``FRESH``.

    That of the attempt before, else the only one, else that of the tank that was last drawn from
    for this vessel. 1 query where there are several.
    """
    keys = {state.solution.pk: state for state in states}
    before = item.record
    if before is not None and (before.made_fresh or before.solution_id in keys):
        return FRESH if before.made_fresh else str(before.solution_id)
    if len(states) < 2:
        return str(states[0].solution.pk) if states else FRESH
    last = (
        StepRecord.objects.filter(
            clean__turnaround__vessel=clean.turnaround.vessel_id,
            solution__tank__in=[state.tank.pk for state in states],
        )
        .order_by("-pk")
        .values_list("solution__tank", flat=True)
        .first()
    )
    chosen = next((state for state in states if state.tank.pk == last), states[0])
    return str(chosen.solution.pk)


def _refuse_other(clean: Clean, step: Step, solution: Solution) -> None:
    """Refuse a solution that the step's skid does not have, or of another agent. 0 queries."""
    tank = solution.tank
    if solution.dumped_at is not None:
        raise Refusal(
            f"The solution in {tank.name} has been dumped. Choose another.",
            field="solution",
            code="dumped",
        )
    if tank.skid_id != clean.skid_id:
        raise Refusal(
            f"{tank.name} is not on {clean.skid.name if clean.skid else 'a skid of this clean'}. "
            "Change the skid, or choose another solution.",
            field="solution",
            code="other_skid",
        )
    if step.agent is None or solution.agent_id != step.agent_id:
        needs = step.agent.name if step.agent is not None else "no agent"
        raise Refusal(
            f"{tank.name} contains {solution.agent.name}, and this step needs {needs}. Choose "
            "another solution.",
            field="solution",
            code="other_agent",
        )


def refuse_unusable(state: SolutionState, *, reason: str) -> None:
    """Refuse a solution that must be dumped, or one past its rule without a reason for it."""
    tank = state.tank
    if state.must_dump:
        raise Refusal(
            f"{tank.name} must be dumped before its next use. {state.must_dump}",
            field="solution",
            code="must_dump",
        )
    past = state.past_rule
    if not past:
        return
    said = f"{tank.name} is past its dump rule: {'; '.join(past)}."
    if not tank.may_explain:
        raise Refusal(
            f"{said} Dump it and make it up fresh, or choose another.",
            field="solution",
            code="past_rule",
        )
    if not reason.strip():
        raise Refusal(
            f"{said} Enter why it may be used, or choose another.",
            field="solution_reason",
            code="no_reason",
        )


@dataclasses.dataclass(frozen=True)
class Draws:
    """What somebody says that a step uses: the solution of a tank, or one made up for it.

    ``reason`` is why a solution is used past its dump rule.
    """

    solution: Solution | None = None
    made_fresh: bool = False
    reason: str = ""


NOT_SAID = Draws()


def drawn(clean: Clean, item: StepProgress, draws: Draws, *, now: datetime) -> dict[str, Any]:
    """What an attempt ran on and drew, as its record keeps it. Part of actions.

    An attempt that prolongs another goes on with its solution. Where a tank of the skid contains
    the step's agent, it has to be said. At most 8 queries, none without a skid.
    """
    step, before = item.step, item.record
    ran_on = {"skid": clean.skid, "hose": clean.hose}
    if item.extend and before is not None:
        kept = ("solution", "made_fresh", "solution_words", "solution_reason")
        return ran_on | {name: getattr(before, name) for name in kept}
    if draws.solution is None:
        fresh = draws.made_fresh and clean.skid is not None and step.agent is not None
        if not fresh and offered_solutions(clean, step, now=now):
            raise Refusal(
                "Choose the solution that is used, or that it is made up fresh.",
                field="solution",
                code="no_solution",
            )
        return ran_on | {"made_fresh": fresh}
    solution = (
        Solution.objects.select_for_update(of=("self",))
        .select_related("tank", "agent")
        .get(pk=draws.solution.pk)
    )
    _refuse_other(clean, step, solution)
    states = offered_solutions(clean, step, now=now)
    state = next(one for one in states if one.solution.pk == solution.pk)
    refuse_unusable(state, reason=draws.reason)
    return ran_on | {
        "solution": solution,
        "solution_words": state.words[:200],
        "solution_reason": draws.reason.strip()[:200] if state.past_rule else "",
    }


def of_drawn(record: StepRecord) -> dict[str, Any]:
    """What an attempt drew, for the ledger: nothing where nothing was said."""
    if record.made_fresh:
        return {"solution": FRESH}
    if record.solution is None:
        return {}
    reason = {"solution_reason": record.solution_reason} if record.solution_reason else {}
    return {"solution": record.solution_words, "solution_id": record.solution_id} | reason

"""What skids and solutions ask of the rooms above them: what cleans did with them."""

import dataclasses
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime

from brewhygiene.questions import Question
from brewhygiene.regimes.models import Agent
from brewhygiene.skids.models import Skid, Solution


@dataclasses.dataclass(frozen=True)
class Carried:
    """An agent that no proved rinse has taken out of a skid or a hose since a step carried it."""

    agent: Agent
    vessel: str
    at: datetime


@dataclasses.dataclass(frozen=True)
class StrengthRead:
    """A strength that was read of a solution in a step."""

    value: float
    basis: str
    titrated: bool
    source: str
    at: datetime


@dataclasses.dataclass(frozen=True)
class Use:
    """A step that drew from a solution.

    ``counts`` unless it only prolongs another. ``carries`` is what was in the vessel that must
    not come back, '' for nothing; where ``drew`` is false the step only gave it to its tank.
    """

    clean: int
    step: int
    vessel: str
    step_words: str
    started_at: datetime
    ended_at: datetime | None
    by: str
    outflow: str
    returned: bool
    counts: bool
    carries: str = ""
    drew: bool = True
    reason: str = ""
    strengths: Sequence[StrengthRead] = ()
    added_kg: float = 0.0


uses_of: Question[[Collection[Solution]], Mapping[int, Sequence[Use]]] = Question(
    "Which steps drew from these solutions, or gave back what must be dumped? 3 queries at most."
)
carried_by_gear: Question[[Collection[Skid]], Mapping[int, Sequence[Carried]]] = Question(
    "Which agents do these skids and hoses still carry, and from where? 2 queries."
)

"""Whether the sanitiser that a reading was taken in is proved not to dim it."""

import dataclasses
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime

from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.quantities.style import digits
from brewhygiene.regimes.models import Agent, Basis, Quantity, StepKind
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.strength import NotConvertible, convert_strength
from brewhygiene.turnarounds.progress import CleanProgress


@dataclasses.dataclass(frozen=True)
class Solution:
    """A sanitiser as it was used; ``mg_l`` is its highest reading, ``None`` where unknown."""

    agent: Agent
    mg_l: float | None

    def __str__(self) -> str:
        strength = "strength not read" if self.mg_l is None else f"{digits(self.mg_l, '.4g')} mg/L"
        return f"{self.agent.name} ({strength})"


def _mg_l(agent: Agent, value: float, basis: str) -> float | None:
    try:
        return convert_strength(
            value=value,
            basis=basis,
            to_basis=Basis.MG_L,
            substance=agent.active_substance,
            product_strength_ww=agent.concentrate_strength_ww,
            product_density_kg_l=agent.concentrate_density_kg_l,
        )
    except (NotConvertible, OutOfRange):
        return None


def solutions_of(cleans: Iterable[CleanProgress], result: Result) -> Iterator[Solution]:
    """The sanitisers of the clean that a reading belongs to, at their highest reading."""
    for item in (i for p in cleans if p.clean.pk == result.clean_id for i in p.steps):
        agent = item.step.agent
        if item.step.kind != StepKind.SANITISER or agent is None or item.state == "left_out":
            continue
        read = [
            _mg_l(agent, reading.value, reading.basis)
            for reading in item.readings
            if reading.quantity == Quantity.CONCENTRATION
        ]
        known = [value for value in read if value is not None]
        yield Solution(agent, max(known) if known and len(known) == len(read) else None)


def proved_not_to_dim(
    studies: Iterable[RecoveryStudy], result: Result, solution: Solution, day: date
) -> bool:
    """Whether a study of this sanitiser, meter and ATP test holds at its strength on a day."""
    return solution.mg_l is not None and any(
        study.proved
        and study.agent_id == solution.agent.pk
        and study.meter_id == result.meter_id
        and study.atp_test_id == result.test_lot.atp_test_id
        and solution.mg_l <= study.strength_mg_l * (1 + 1e-9)
        and study.in_force_on(day)
        for study in studies
    )


def not_proved(
    cleans: Sequence[CleanProgress],
    results: Iterable[Result],
    studies: Sequence[RecoveryStudy],
    *,
    day_of: Callable[[datetime], date],
) -> list[str]:
    """In words, each reading in a sanitiser that no study shows not to dim it. 0 queries."""
    return [
        f"{result.point.name}: read in {solution}, and no recovery study shows that it does not "
        f"dim {result.meter.name} with {result.test_lot.atp_test.name}"
        for result in results
        for solution in solutions_of(cleans, result)
        if not proved_not_to_dim(studies, result, solution, day_of(result.taken_at))
    ]

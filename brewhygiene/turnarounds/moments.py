"""At which moment of a clean a sample is taken: from its steps as they ended, never typed."""

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.regimes.models import StepKind

_SOILING = frozenset({StepKind.CAUSTIC, StepKind.ACID})


class EndedStep(NamedTuple):
    """A step that ended and was not left out; ``end_met`` as its record says."""

    kind: str
    end_met: bool | None = None


def moment_of(ended: Iterable[EndedStep], still_to_come: Sequence[str]) -> SamplingMoment:
    """The moment after the steps that ended, oldest first, with those kinds still to come.

    Unknown where it is none that readings are compared at: before the last caustic or acid, or
    before the rinse after it. Without a sanitising step to come a rinse counts where its end was
    reached.
    """
    found = SamplingMoment.UNKNOWN
    for step in ended:
        if step.kind in _SOILING:
            found = SamplingMoment.UNKNOWN
        elif step.kind == StepKind.SANITISER:
            found = SamplingMoment.IN_SANITISER
        elif step.kind == StepKind.HOT_WATER:
            found = SamplingMoment.AFTER_SANITISER
        elif step.kind == StepKind.RINSE:
            found = _after_rinse(found, step, still_to_come)
    return SamplingMoment.UNKNOWN if _SOILING & set(still_to_come) else found


def _after_rinse(
    before: SamplingMoment, step: EndedStep, still_to_come: Sequence[str]
) -> SamplingMoment:
    if before in (SamplingMoment.IN_SANITISER, SamplingMoment.AFTER_SANITISER):
        return SamplingMoment.AFTER_SANITISER
    next_one = next(
        (k for k in still_to_come if k in (StepKind.SANITISER, StepKind.HOT_WATER)), None
    )
    if next_one == StepKind.SANITISER:
        return SamplingMoment.BEFORE_SANITISER
    if next_one == StepKind.HOT_WATER:
        return SamplingMoment.BEFORE_HEAT
    return SamplingMoment.RINSE_PROVED if step.end_met else SamplingMoment.UNKNOWN

"""Which stretch of a logger file belongs to which step of its clean: proposed, then chosen.

A step was timed when it ran, and the file has phases of its own. The rule:

1. Where the file's clock and the clean's overlap, a step belongs to the longest phase of its
   kind that lies in its timed minutes, or to all of them where there is none.
2. Where they nowhere do (no dates, a wrong clock), steps and phases are matched in their order:
   by kind, and better where the phase's means lie in the step's windows.
"""

import dataclasses
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from brewhygiene.regimes.models import Quantity, Step, StepKind
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.progress import CleanProgress, StepProgress, chain_of

TIMED = "timed"
NONE = "none"
# A phase lies in a step if this much of it does: logger and tablet never quite agree.
SHARE_INSIDE = 0.8
HOT_FROM_C = 45.0

WATER = frozenset({"water", "cold", "hot", "hot water"})
KINDS: dict[str, frozenset[str]] = {
    StepKind.PRE_RINSE: WATER,
    StepKind.RINSE: WATER,
    StepKind.CAUSTIC: frozenset({"solution", "hot", "cold"}),
    StepKind.ACID: frozenset({"solution", "hot", "cold"}),
    StepKind.SANITISER: frozenset({"solution", "water", "cold"}),
    StepKind.HOT_WATER: frozenset({"hot water", "hot"}),
}


@dataclasses.dataclass(frozen=True)
class Phase:
    """A found phase of a kept evaluation, numbered from 1; seconds of the file."""

    number: int
    kind: str
    from_s: float
    until_s: float
    means: Mapping[str, float]

    @property
    def minutes(self) -> float:
        return (self.until_s - self.from_s) / 60

    @property
    def choice(self) -> str:
        return f"phase:{self.number}"


def phases_of(evaluation: Mapping[str, Any]) -> list[Phase]:
    """The phases of a kept evaluation, in order."""
    return [Phase(number, **kept) for number, kept in enumerate(evaluation["phases"], start=1)]


@dataclasses.dataclass(frozen=True)
class Attempt:
    """One attempt at a step; ``timed`` are its seconds of the file, cut to it, if in it."""

    item: StepProgress
    record: StepRecord
    timed: tuple[float, float] | None

    @property
    def step(self) -> Step:
        return self.item.step

    @property
    def standing(self) -> bool:
        """Whether it counts: the latest attempt and those that it prolongs."""
        latest = self.item.record
        return latest is not None and self.record in chain_of(latest)

    @property
    def title(self) -> str:
        title = f"{self.step.order}. {self.step.get_kind_display()}"
        return f"{title}, attempt {self.record.attempt}" if len(self.item.attempts) > 1 else title


def attempts_of(
    progress: CleanProgress, *, starts_at: datetime | None, duration_s: float, now: datetime
) -> list[Attempt]:
    """Every attempt at a step that ran or runs, in the order in which they began. 0 queries."""
    found = [
        Attempt(
            item,
            record,
            _timed(record, starts_at=starts_at, duration_s=duration_s, now=now),
        )
        for item in progress.steps
        for record in item.attempts
        if not record.left_out
    ]
    return sorted(found, key=lambda attempt: (attempt.record.started_at, attempt.record.pk))


def _timed(
    record: StepRecord, *, starts_at: datetime | None, duration_s: float, now: datetime
) -> tuple[float, float] | None:
    if starts_at is None:
        return None
    from_s = max((record.started_at - starts_at).total_seconds(), 0.0)
    until_s = min(((record.ended_at or now) - starts_at).total_seconds(), duration_s)
    return (from_s, until_s) if until_s > from_s else None


def fits(step: Step, phase: Phase) -> bool:
    """Whether a phase may be this step, by its kind."""
    if phase.kind not in KINDS.get(step.kind, frozenset()):
        return False
    window = step.window(Quantity.TEMPERATURE_C)
    hot_step = window is not None and window.minimum is not None and window.minimum >= HOT_FROM_C
    # Without conductivity a phase is hot or cold, and so is the step.
    return not (hot_step and phase.kind == "cold")


def _score(step: Step, phase: Phase) -> int:
    """How well a phase that fits would be this step: 2, and 1 more for each mean in its window."""
    score = 2
    for window in step.windows.all():
        mean = phase.means.get(window.quantity)
        if mean is None:
            continue
        low = window.minimum is None or mean >= window.minimum
        score += int(low and (window.maximum is None or mean <= window.maximum))
    return score


def propose_choices(attempts: Sequence[Attempt], phases: Sequence[Phase]) -> dict[int, str]:
    """For each record's key ``timed``, ``phase:n`` or ``none``, by the rule of this module."""
    if any(attempt.timed for attempt in attempts):
        return {attempt.record.pk: _by_time(attempt, phases) for attempt in attempts}
    return _by_order(attempts, phases)


def _by_time(attempt: Attempt, phases: Sequence[Phase]) -> str:
    if attempt.timed is None:
        return NONE
    from_s, until_s = attempt.timed
    inside = [
        phase
        for phase in phases
        if fits(attempt.step, phase)
        and min(phase.until_s, until_s) - max(phase.from_s, from_s)
        >= SHARE_INSIDE * (phase.until_s - phase.from_s)
    ]
    return max(inside, key=lambda phase: phase.minutes).choice if inside else TIMED


def _by_order(attempts: Sequence[Attempt], phases: Sequence[Phase]) -> dict[int, str]:
    """The matching in order with the greatest score in all; a step or a phase may be left over."""
    best = [[0] * (len(phases) + 1) for _ in range(len(attempts) + 1)]
    for a in range(len(attempts) - 1, -1, -1):
        for p in range(len(phases) - 1, -1, -1):
            step = attempts[a].step
            matched = _score(step, phases[p]) + best[a + 1][p + 1] if fits(step, phases[p]) else 0
            best[a][p] = max(best[a + 1][p], best[a][p + 1], matched)
    chosen = {attempt.record.pk: NONE for attempt in attempts}
    a = p = 0
    while a < len(attempts) and p < len(phases):
        step = attempts[a].step
        if fits(step, phases[p]) and best[a][p] == _score(step, phases[p]) + best[a + 1][p + 1]:
            chosen[attempts[a].record.pk] = phases[p].choice
            a, p = a + 1, p + 1
        elif best[a][p] == best[a + 1][p]:
            a += 1
        else:
            p += 1
    return chosen


def seconds_of(
    choice: str, attempt: Attempt, phases: Sequence[Phase]
) -> tuple[float, float] | None:
    """The stretch that a choice stands for, or ``None``."""
    if choice == TIMED:
        return attempt.timed
    found = next((phase for phase in phases if phase.choice == choice), None)
    return None if found is None else (found.from_s, found.until_s)

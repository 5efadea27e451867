"""Where a clean stands: pure functions on a clean with its steps and records loaded."""

import dataclasses
import math
from datetime import datetime
from typing import Literal

from brewhygiene.regimes.materials.meetings import MEASURED_ENDS as MEASURED_ENDS
from brewhygiene.regimes.models import (
    VENT_QUANTITIES,
    AgentKind,
    EndCriterion,
    Quantity,
    Step,
    StepKind,
)
from brewhygiene.turnarounds.models import (
    Clean,
    ReadingStage,
    StepReading,
    StepRecord,
    WindowVerdict,
)
from brewhygiene.turnarounds.models.deviations import (
    PUT_RIGHT,
    Deviation,
    DeviationKind,
    Disposition,
)

StepState = Literal["waiting", "next", "running", "deviation", "again", "done", "left_out"]

# Read by the clock and the end button, so never asked for as a reading of their own.
NOT_READ_BY_HAND = frozenset({Quantity.TIME_MIN})


def standing_readings(record: StepRecord) -> list[StepReading]:
    """The readings that no correction replaces; reads prefetched readings."""
    readings = list(record.readings.all())
    corrected = {reading.corrects_id for reading in readings if reading.corrects_id}
    return [reading for reading in readings if reading.pk not in corrected]


def standing_deviations(record: StepRecord) -> list[Deviation]:
    """The deviations whose reading still stands; reads prefetched rows."""
    standing = {reading.pk for reading in standing_readings(record)}
    return [
        deviation
        for deviation in record.deviations.all()
        if deviation.reading_id is None or deviation.reading_id in standing
    ]


def open_deviations(record: StepRecord) -> list[Deviation]:
    return [deviation for deviation in standing_deviations(record) if not deviation.disposition]


def open_unread(record: StepRecord, quantity: str) -> list[Deviation]:
    """The open deviations that say of a quantity that it was not read; reads prefetched rows."""
    return [
        item
        for item in open_deviations(record)
        if item.kind == DeviationKind.NOT_READ and item.quantity == quantity
    ]


@dataclasses.dataclass(frozen=True)
class StepProgress:
    """One step of a clean: its state, its attempts, and what stands in the way."""

    step: Step
    state: StepState
    attempts: list[StepRecord]
    open_deviations: list[Deviation]
    extend: bool

    @property
    def record(self) -> StepRecord | None:
        """The latest attempt."""
        return self.attempts[-1] if self.attempts else None

    @property
    def settled(self) -> bool:
        return self.state in ("done", "left_out")

    @property
    def readings(self) -> list[StepReading]:
        return [reading for attempt in self.attempts for reading in standing_readings(attempt)]

    @property
    def deviations(self) -> list[Deviation]:
        return [item for attempt in self.attempts for item in standing_deviations(attempt)]


@dataclasses.dataclass(frozen=True)
class CleanProgress:
    """A clean's steps in order, and the one that is on."""

    clean: Clean
    steps: list[StepProgress]

    @property
    def current(self) -> StepProgress | None:
        """The first step that is not settled."""
        return next((item for item in self.steps if not item.settled), None)

    @property
    def complete(self) -> bool:
        return self.current is None

    @property
    def settled_count(self) -> int:
        return sum(item.settled for item in self.steps)

    def of(self, step: Step) -> StepProgress:
        return next(item for item in self.steps if item.step.pk == step.pk)


def _continuation(record: StepRecord, disposition: str) -> bool:
    """Whether an ended attempt was disposed so that another has to follow.

    It has to although the reading that led to it was corrected since: the attempt was given up.
    """
    return any(
        item.disposition == disposition
        and item.disposed_at is not None
        and record.ended_at is not None
        and item.disposed_at >= record.ended_at
        for item in record.deviations.all()
    )


def _step_state(attempts: list[StepRecord]) -> tuple[StepState, bool]:
    if not attempts:
        return "waiting", False
    latest = attempts[-1]
    if latest.ended_at is None:
        return "running", False
    # An earlier attempt's too: a late correction may have found it outside its window.
    if any(open_deviations(attempt) for attempt in attempts):
        return "deviation", False
    if _continuation(latest, Disposition.REPEAT):
        return "again", False
    if _continuation(latest, Disposition.EXTEND):
        return "again", True
    return ("left_out" if latest.left_out else "done"), False


def progress_of(clean: Clean) -> CleanProgress:
    """How far a clean is. ``clean`` as loaded by ``queries.cleans_with_records``."""
    attempts: dict[int, list[StepRecord]] = {}
    records = {record.pk: record for record in clean.step_records.all()}
    for record in records.values():
        if record.extends_id is not None:
            # The row that is loaded already, with its readings.
            record.extends = records[record.extends_id]
        attempts.setdefault(record.step_id, []).append(record)
    steps: list[StepProgress] = []
    first_open = True
    for step in clean.version.steps.all():
        of_step = attempts.get(step.pk, [])
        state, extend = _step_state(of_step)
        if state == "waiting" and first_open and clean.running:
            state = "next"
        if state not in ("done", "left_out"):
            first_open = False
        steps.append(
            StepProgress(
                step=step,
                state=state,
                attempts=of_step,
                open_deviations=[item for r in of_step for item in open_deviations(r)],
                extend=extend,
            )
        )
    return CleanProgress(clean=clean, steps=steps)


def chain_of(record: StepRecord) -> list[StepRecord]:
    """An attempt and those that it prolongs, newest first. 0 queries after ``progress_of``."""
    chain, current = [], record
    while True:
        chain.append(current)
        if current.extends is None:
            return chain
        current = current.extends


def minutes_of(record: StepRecord, *, until: datetime) -> float:
    """Minutes run by an attempt and those it prolongs, to its end or ``until``.

    An ended attempt's own time reading counts before the clock: it may have been typed where
    the timer was not used, or corrected. It covers what it prolongs. 0 queries after
    ``progress_of``.
    """
    minutes = 0.0
    for attempt in chain_of(record):
        timed = [r for r in standing_readings(attempt) if r.quantity == Quantity.TIME_MIN]
        if timed:
            return minutes + timed[-1].value
        minutes += ((attempt.ended_at or until) - attempt.started_at).total_seconds() / 60
    return minutes


def to_tenth_below(minutes: float) -> float:
    """Minutes to a tenth, never upwards: a step is not made longer than it was.

    >>> to_tenth_below(19.99), to_tenth_below(20.0)
    (19.9, 20.0)
    """
    return math.floor(minutes * 10 + 1e-6) / 10


def asked_quantities(step: Step) -> list[str]:
    """What has to be read in a step: its windows' quantities, and what shows its end."""
    asked = [
        window.quantity for window in step.windows.all() if window.quantity not in NOT_READ_BY_HAND
    ]
    if step.end_criterion == EndCriterion.VENTED:
        return [*asked, *VENT_QUANTITIES]
    measured = MEASURED_ENDS.get(step.end_criterion)
    return asked if measured is None or measured in asked else [*asked, measured.value]


def residue_before(clean: Clean, step: Step) -> Literal["caustic", "acid"] | None:
    """What the agent before a step would leave; ``None`` where it is neither, or there is none.

    Reads prefetched steps.
    """
    before = [
        other.agent.kind
        for other in clean.version.steps.all()
        if other.order < step.order and other.agent is not None
    ]
    if before and before[-1] == AgentKind.CAUSTIC:
        return "caustic"
    return "acid" if before and before[-1] == AgentKind.ACID else None


def latest_readings(record: StepRecord) -> dict[str, StepReading]:
    """The last standing reading of each quantity, of an attempt and those it prolongs.

    The supply water's are not of the step. 0 queries after ``progress_of``.
    """
    found: dict[str, StepReading] = {}
    for attempt in reversed(chain_of(record)):
        found |= {
            reading.quantity: reading
            for reading in standing_readings(attempt)
            if reading.stage != ReadingStage.SUPPLY
        }
    return found


def read_quantities(record: StepRecord) -> set[str]:
    """The quantities that are read in an attempt and those that it prolongs.

    One that was put right after its reading is not, until it is read again.
    """
    latest = latest_readings(record)
    again = {
        item.quantity
        for attempt in chain_of(record)
        for item in standing_deviations(attempt)
        if item.disposition in PUT_RIGHT
        and item.reading_id is not None
        and item.quantity in latest
        and latest[item.quantity].pk <= item.reading_id
    }
    return set(latest) - again


def unread_quantities(record: StepRecord, step: Step) -> list[str]:
    """What a step asks to be read and neither its attempt nor one it prolongs has.

    Of what shows that a tank is vented one is enough.
    """
    read = read_quantities(record)
    if read & set(VENT_QUANTITIES):
        read |= set(VENT_QUANTITIES)
    return [quantity for quantity in asked_quantities(step) if quantity not in read]


def is_outside(reading: StepReading) -> bool:
    return reading.verdict in (WindowVerdict.BELOW, WindowVerdict.ABOVE)


def sanitising(step: Step) -> bool:
    """Whether a step leaves the vessel sanitised."""
    return step.kind in (StepKind.SANITISER, StepKind.HOT_WATER)

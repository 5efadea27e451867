"""A step's contact time: worked out from its readings, its top-ups and its losses of flow."""

import dataclasses
from datetime import datetime

from brewhygiene.quantities.sources import ValueSource
from brewhygiene.regimes.models import Quantity, Step
from brewhygiene.science.contact import ContactRuns, Event, contact_runs
from brewhygiene.turnarounds.models import ReadingStage, StepReading, StepRecord, WindowVerdict
from brewhygiene.turnarounds.models.deviations import PUT_RIGHT
from brewhygiene.turnarounds.progress import (
    chain_of,
    standing_deviations,
    standing_readings,
    to_tenth_below,
    unread_quantities,
)
from brewhygiene.turnarounds.quantities import quantity_title

# What a solution has to be for its minutes to count.
COUNTS = (Quantity.CONCENTRATION, Quantity.TEMPERATURE_C)
FLOWS = frozenset({Quantity.FLOW_L_MIN, Quantity.VELOCITY_M_S})
# Who tells of the flow, beside the tap.
LOGGER = "logger"


@dataclasses.dataclass(frozen=True)
class Contact:
    """A step's contact time at a moment; ``ceiling_min`` is what a logger gave at most."""

    runs: ContactRuns
    stopped_by: str  # in words; '' while it counts
    once: tuple[str, ...]  # quantities that were read only once
    ceiling_min: float | None
    known: bool  # everything asked was read, and the last reading of each is inside

    @property
    def minutes(self) -> float:
        """The longest run, min, to a tenth and never upwards."""
        longest = self.runs.longest_s / 60
        if self.ceiling_min is not None:
            longest = min(longest, self.ceiling_min)
        return to_tenth_below(longest)

    @property
    def once_words(self) -> str:
        """As 'strength read once'; '' where everything was read again."""
        if not self.once:
            return ""
        return f"{' and '.join(Quantity(name).label for name in self.once)} read once"


def contact_quantities(step: Step) -> list[str]:
    """What a step's windows ask of its solution; reads prefetched windows. 0 queries."""
    windows = {window.quantity for window in step.windows.all()}
    return [quantity.value for quantity in COUNTS if quantity in windows]


def _seconds(at: datetime, start: datetime) -> float:
    return (at - start).total_seconds()


def _read_at(reading: StepReading, attempt: StepRecord) -> datetime:
    """When it was read: of a correction, when what it corrects was. 0 queries."""
    others = {other.pk: other for other in attempt.readings.all()}
    while reading.corrects_id is not None:
        reading = others[reading.corrects_id]
    return reading.taken_at


def _of_logged_flow(reading: StepReading, at_s: float, *, start: datetime) -> list[Event]:
    """A logger that shows less flow than set shows that the flow was lost.

    Until it is back in the same file, or until another reading of a logger is not too low.
    """
    if reading.verdict != WindowVerdict.BELOW:
        return [Event(at_s, "flow", LOGGER)]
    if not reading.below:
        return [Event(at_s, "no_flow", LOGGER)]
    found = []
    for lost_at, back_at in reading.below:
        lost_s = _seconds(datetime.fromisoformat(lost_at), start)
        found.append(Event(lost_s, "no_flow", LOGGER))
        if back_at is not None:
            back_s = _seconds(datetime.fromisoformat(back_at), start)
            found.append(Event(back_s, "flow", LOGGER))
    return found


def _of_reading(reading: StepReading, *, attempt: StepRecord, start: datetime) -> list[Event]:
    if reading.stage == ReadingStage.SUPPLY:
        return []
    by_logger = reading.source == ValueSource.LOGGER
    at_s = _seconds(_read_at(reading, attempt), start)
    if reading.quantity in FLOWS:
        return _of_logged_flow(reading, at_s, start=start) if by_logger else []
    within = reading.verdict == WindowVerdict.WITHIN
    if by_logger and within:
        # It is the worst of the whole stretch: all of it was inside.
        at_s = _seconds(attempt.started_at, start)
    return [Event(at_s, "inside" if within else "outside", reading.quantity)]


def _events(record: StepRecord) -> list[Event]:
    """What happened in an attempt and those it prolongs; of one moment, in its order."""
    attempts = list(reversed(chain_of(record)))
    start = attempts[0].started_at
    found: list[Event] = []
    for attempt in attempts:
        begin_s = _seconds(attempt.started_at, start)
        found += [Event(begin_s, "flow"), Event(begin_s, "flow", LOGGER)]
        for loss in attempt.flow_losses.all():
            found.append(Event(_seconds(loss.lost_at, start), "no_flow"))
            if loss.back_at is not None:
                found.append(Event(_seconds(loss.back_at, start), "flow"))
        put_right = {
            item.reading_id: item
            for item in standing_deviations(attempt)
            if item.disposition in PUT_RIGHT
        }
        for reading in standing_readings(attempt):
            found += _of_reading(reading, attempt=attempt, start=start)
            item = put_right.get(reading.pk)
            if item is not None and item.disposed_at is not None:
                found.append(Event(_seconds(item.disposed_at, start), "unknown", item.quantity))
        if attempt.ended_at is not None:
            found.append(Event(_seconds(attempt.ended_at, start), "no_flow"))
    return found


def contact_of(record: StepRecord, step: Step, *, until: datetime) -> Contact | None:
    """Contact of an attempt and those it prolongs; ``None`` where the step asks for none.

    0 queries after ``progress_of``.
    """
    asked = contact_quantities(step)
    if not asked:
        return None
    chain = chain_of(record)
    start = chain[-1].started_at
    end = record.ended_at or until
    runs = contact_runs(_events(record), asked=asked, until_s=_seconds(min(end, until), start))
    readings = [
        reading
        for attempt in chain
        for reading in standing_readings(attempt)
        if reading.stage != ReadingStage.SUPPLY
    ]
    logged = [
        reading.value
        for reading in standing_readings(record)
        if reading.quantity == Quantity.TIME_MIN and reading.source == ValueSource.LOGGER
    ]
    return Contact(
        runs=runs,
        stopped_by=_stopped_by(record, step, runs),
        once=tuple(
            quantity
            for quantity in asked
            if [r.source == ValueSource.LOGGER for r in readings if r.quantity == quantity]
            == [False]
        ),
        ceiling_min=logged[-1] if logged else None,
        known=not set(asked) & set(unread_quantities(record, step)) and not runs.missing,
    )


def _stopped_by(record: StepRecord, step: Step, runs: ContactRuns) -> str:
    """Why contact time does not count, in words; '' while it does."""
    unread = set(unread_quantities(record, step))
    for quantity in runs.missing:
        title = quantity_title(quantity)
        if quantity not in unread:
            return f"{title} outside its window"
        again = any(
            reading.quantity == quantity and reading.stage != ReadingStage.SUPPLY
            for attempt in chain_of(record)
            for reading in standing_readings(attempt)
        )
        return f"{title} not read again yet" if again else f"{title} not read yet"
    return "" if runs.flowing else "Flow lost"


def judged_minutes(record: StepRecord, step: Step, *, until: datetime) -> float | None:
    """The contact minutes that a step's time is judged by; ``None`` where its timer is.

    What was not read, or read outside last, has a deviation of its own: then the timer counts.
    """
    contact = contact_of(record, step, until=until)
    return contact.minutes if contact is not None and contact.known else None

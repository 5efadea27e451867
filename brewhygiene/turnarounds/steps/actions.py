"""Actions on one step: safety checks, start, end, deviations."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from brewhygiene.delivery.arrivals import started_on_tablet
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.sources import CLAIMED, ValueSource
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import EndCriterion, Quantity, Step
from brewhygiene.turnarounds.actions import lock_running_clean, raise_revision
from brewhygiene.turnarounds.contact import contact_of
from brewhygiene.turnarounds.models import (
    Clean,
    Outflow,
    ReadingStage,
    SafetyAcknowledgement,
    StepRecord,
    WindowVerdict,
)
from brewhygiene.turnarounds.models.deviations import Deviation, DeviationKind, Disposition
from brewhygiene.turnarounds.observations.keeping import (
    Seen,
    checked_observations,
    keep_photos,
    name_what_is_not_clean,
)
from brewhygiene.turnarounds.progress import (
    StepProgress,
    minutes_of,
    progress_of,
    to_tenth_below,
)
from brewhygiene.turnarounds.readings.actions import lock_record, write_reading
from brewhygiene.turnarounds.residues import refuse_unsafe_step
from brewhygiene.turnarounds.residues.gear import of_gear, refuse_gear_for_step
from brewhygiene.turnarounds.steps.closing import name_what_is_missing
from brewhygiene.turnarounds.steps.drain import drain_words
from brewhygiene.turnarounds.steps.ends import refuse_end_not_read
from brewhygiene.turnarounds.steps.safety import acknowledged_codes, required_codes
from brewhygiene.turnarounds.steps.solutions.drawing import NOT_SAID, Draws, drawn, of_drawn
from brewhygiene.turnarounds.steps.times.bracket import check_bracket, earliest_start
from brewhygiene.turnarounds.steps.times.minutes import contact_judged, forgotten_words
from brewhygiene.turnarounds.steps.times.offline import when_ended, when_started
from brewhygiene.turnarounds.steps.times.stated import StatedReading


def _step_of(clean: Clean, step: Step) -> StepProgress:
    progress = progress_of(clean)
    if all(item.step.pk != step.pk for item in progress.steps):
        raise Refusal("That step belongs to another regime.")
    return progress.of(step)


@action("acknowledge safety checks")
def acknowledge_safety(
    *,
    by: Actor,
    clean: Clean,
    step: Step,
    codes: Iterable[str],
    confirmed_at: datetime | None = None,
) -> Recorded[SafetyAcknowledgement]:
    """Record that every caution of a step is heeded, each by its own tick.

    ``confirmed_at`` is when, where that was without a network: then only of a step that may start
    so.
    """
    user = require(by, "work_cellar")
    clean = lock_running_clean(clean)
    step = _step_of(clean, step).step
    started_at = when_started(confirmed_at, by=by, clean=clean, step=step)
    needed = required_codes(clean, step)
    missing = set(needed) - set(codes)
    if missing:
        words = "Tick every line. The step cannot start before."
        raise Refusal(words, field="codes", code="unchecked")
    acknowledgement = SafetyAcknowledgement.objects.create(
        clean=clean,
        step=step,
        codes=list(needed),
        texts=list(needed.values()),
        user=user,
        acknowledged_at=started_at or by.now,
    )
    return Recorded(
        acknowledgement, {"step": str(step), "checks": needed}, aggregate=clean.turnaround
    )


def _refuse_unless_startable(clean: Clean, step: Step) -> StepProgress:
    current = progress_of(clean).current
    item = _step_of(clean, step)
    if current is None or current.step.pk != step.pk:
        if item.settled:
            raise Refusal(f"{item.step.get_kind_display()} is already done.", code="step_done")
        first = current.step.get_kind_display() if current else "nothing"
        raise Refusal(f"Do {first} first.", code="out_of_order")
    if item.state == "running":
        raise Refusal("This step is already running.", code="step_running")
    if item.open_deviations:
        raise Refusal(
            "Decide on the open deviation first, then start the step.", code="open_deviation"
        )
    return item


def _ready(clean: Clean, step: Step, *, now: datetime) -> StepProgress:
    """The step, whose turn it is and which may run in this vessel and on its skid, its safety
    checks confirmed."""
    item = _refuse_unless_startable(clean, step)
    refuse_unsafe_step(clean, item.step)
    refuse_gear_for_step(clean, item.step, now=now)
    if set(required_codes(clean, item.step)) - acknowledged_codes(clean, item.step):
        raise Refusal("Confirm the safety checks of this step first.", field="codes", code="unsafe")
    return item


@action("start step")
def start_step(
    *,
    by: Actor,
    clean: Clean,
    step: Step,
    draws: Draws = NOT_SAID,
    started_at: datetime | None = None,
) -> Recorded[StepRecord]:
    """Start a step, or its next attempt; its safety checks must be acknowledged.

    ``draws`` says which solution of a tank of its skid is used, or that it is made up fresh.
    ``started_at`` is when, where a rinse or a drain was started without a network.
    """
    user = require(by, "work_cellar")
    clean = lock_running_clean(clean)
    if clean.entered_at is not None:
        raise Refusal(
            "This clean was done already. Enter the start and end of each step.",
            code="entered_afterwards",
        )
    item = _ready(clean, step, now=by.now)
    started_at = when_started(started_at, by=by, clean=clean, step=item.step)
    record = StepRecord.objects.create(
        clean=clean,
        step=item.step,
        attempt=len(item.attempts) + 1,
        extends=item.record if item.extend else None,
        started_at=started_at or by.now,
        started_by=user,
        **drawn(clean, item, draws, now=by.now),
    )
    raise_revision(clean.turnaround)
    return Recorded(
        record,
        {
            "step": str(item.step),
            "attempt": record.attempt,
            "extends": item.extend,
            **({"started_at": started_at} if started_at is not None else {}),
            **of_gear(record),
            **of_drawn(record),
        },
        aggregate=clean.turnaround,
    )


@action("leave out step")
def leave_out_step(*, by: Actor, clean: Clean, step: Step, reason: str) -> Recorded[StepRecord]:
    """Leave a step out: a deviation, to be accepted with a reason or undone by doing it."""
    user = require(by, "work_cellar")
    if not reason.strip():
        raise Refusal("Enter why the step is left out.", field="reason")
    clean = lock_running_clean(clean)
    item = _refuse_unless_startable(clean, step)
    record = StepRecord.objects.create(
        clean=clean,
        step=item.step,
        attempt=len(item.attempts) + 1,
        started_at=by.now,
        started_by=user,
        ended_at=by.now,
        ended_by=user,
        left_out=True,
        note=reason.strip(),
    )
    Deviation.objects.create(
        record=record,
        kind=DeviationKind.LEFT_OUT,
        description=f"{item.step.get_kind_display()} left out: {reason.strip()}"[:200],
        found_at=by.now,
    )
    raise_revision(clean.turnaround)
    return Recorded(
        record, {"step": str(item.step), "reason": reason.strip()}, aggregate=clean.turnaround
    )


def _close(
    *,
    by: Actor,
    item: StepProgress,
    record: StepRecord,
    ran_min: float,
    source: ValueSource,
    end_criterion_met: bool | None,
    agent_lot: str,
    outflow: str,
    note: str,
    observations: Sequence[Seen],
    at: datetime | None = None,
) -> Recorded[StepRecord]:
    """Close an attempt whose ``ended_at`` is set: judge its time, and name what is missing.

    ``at`` is when somebody looked, where that was before now.
    """
    when = at or by.now
    step = item.step
    needs_end = step.end_criterion != EndCriterion.NONE
    if needs_end and end_criterion_met is None:
        raise Refusal(
            f"Choose whether the end was reached: {step.get_end_criterion_display()}.",
            field="end_criterion_met",
        )
    drain = drain_words(step, record.clean)
    asks_where = bool(drain) or record.solution_id is not None
    if asks_where and outflow not in Outflow.values:
        raise Refusal(
            "Choose where water and solution of this step went.", field="outflow", code="no_outflow"
        )
    contact = contact_of(record, step, until=by.now)
    if end_criterion_met:
        refuse_end_not_read(step, record, now=by.now, claimed=source in CLAIMED)
    seen = checked_observations(
        record.clean, step, observations, end_criterion_met=end_criterion_met
    )
    record.ended_by = by.person
    record.end_criterion_met = end_criterion_met if needs_end else None
    record.agent_lot = agent_lot.strip()[:40]
    record.outflow = outflow if asks_where else ""
    record.note = note.strip()
    record.observations = keep_photos(record, seen, by=by, at=when) or None
    record.save()
    if step.window(Quantity.TIME_MIN) is not None or source in CLAIMED:
        timed = write_reading(
            by=by,
            record=record,
            step=step,
            quantity=Quantity.TIME_MIN,
            value=ran_min,
            source=source,
            basis="",
            stage=ReadingStage.END,
            titration=None,
            contact_min=contact_judged(record, step),
            taken_at=at,
        )
        forgotten = forgotten_words(ran_min, step)
        if forgotten and timed.verdict != WindowVerdict.ABOVE:
            Deviation.objects.create(
                record=record,
                kind=DeviationKind.FORGOTTEN,
                quantity=Quantity.TIME_MIN,
                description=forgotten,
                found_at=by.now,
            )
    name_what_is_missing(record, drain=drain, by=by)
    name_what_is_not_clean(record, by=by)
    return Recorded(
        record,
        {
            "step": str(step),
            "minutes": ran_min,
            "contact_minutes": None if contact is None else contact.minutes,
            "source": source,
            **({"ended_at": at} if at is not None else {}),
            "end_reached": record.end_criterion_met,
            "agent_lot": record.agent_lot,
            **({"outflow": record.outflow} if asks_where else {}),
            **(of_gear(record) | of_drawn(record) if record.stated_at else {}),
            "note": record.note,
            "observations": record.observations,
        },
        aggregate=record.clean.turnaround,
    )


@action("end step")
def end_step(
    *,
    by: Actor,
    record: StepRecord,
    end_criterion_met: bool | None = None,
    agent_lot: str = "",
    outflow: str = "",
    note: str = "",
    observations: Sequence[Seen] = (),
    ended_at: datetime | None = None,
) -> Recorded[StepRecord]:
    """End a running step by the timer. Its time is judged; what is missing is a deviation.

    ``outflow`` is where its water or solution went, asked of a solution from a tank, and after
    an allergen or a mixed culture: then back to the tank is a deviation. ``ended_at`` is when,
    where that was without a network: the timer was the tablet's.
    """
    require(by, "work_cellar")
    clean, item, record = lock_record(record)
    if record.ended_at is not None:
        raise Refusal("This step has already ended.", code="step_ended")
    ended_at = when_ended(ended_at, by=by, record=record)
    by_tablet = ended_at is not None or started_on_tablet(record.pk)
    record.ended_at = ended_at or by.now
    closed = _close(
        by=by,
        item=item,
        record=record,
        ran_min=to_tenth_below(minutes_of(record, until=record.ended_at)),
        source=ValueSource.TABLET_TIMER if by_tablet else ValueSource.SERVER_TIMER,
        end_criterion_met=end_criterion_met,
        agent_lot=agent_lot,
        outflow=outflow,
        note=note,
        observations=observations,
        at=ended_at,
    )
    raise_revision(clean.turnaround)
    return closed


@action("state step")
def state_step(
    *,
    by: Actor,
    clean: Clean,
    step: Step,
    started_at: datetime,
    ended_at: datetime,
    end_criterion_met: bool | None = None,
    agent_lot: str = "",
    outflow: str = "",
    note: str = "",
    observations: Sequence[Seen] = (),
    readings: Sequence[StatedReading] = (),
    draws: Draws = NOT_SAID,
) -> Recorded[StepRecord]:
    """Record a step that ran without the timer, by its start and end on the clock.

    What is only stated passes no check alone: a deviation asks for its reason. In a clean that
    was entered afterwards, ``readings`` are stated too, and its reason is theirs.
    """
    user = require(by, "work_cellar")
    clean = lock_running_clean(clean)
    item = _ready(clean, step, now=by.now)
    check_bracket(clean, by=by, started_at=started_at, ended_at=ended_at)
    record = StepRecord.objects.create(
        clean=clean,
        step=item.step,
        attempt=len(item.attempts) + 1,
        extends=item.record if item.extend else None,
        started_at=max(started_at, earliest_start(clean)),
        started_by=user,
        stated_at=by.now,
        **drawn(clean, item, draws, now=by.now),
    )
    record.ended_at = max(ended_at, record.started_at)
    if readings and clean.entered_at is None:
        raise Refusal("Record the readings in the step itself.", code="readings_not_stated")
    for given in readings:
        write_reading(
            by=by,
            record=record,
            step=item.step,
            quantity=given.quantity,
            value=given.value,
            source=ValueSource.STATED,
            basis=given.basis,
            stage=ReadingStage.RETURN,
            titration=None,
            taken_at=record.started_at,
        )
    before = minutes_of(record.extends, until=by.now) if record.extends is not None else 0.0
    ran = (record.ended_at - record.started_at).total_seconds() / 60
    closed = _close(
        by=by,
        item=item,
        record=record,
        ran_min=to_tenth_below(before + ran),
        source=ValueSource.STATED,
        end_criterion_met=end_criterion_met,
        agent_lot=agent_lot,
        outflow=outflow,
        note=note,
        observations=observations,
    )
    if clean.entered_at is not None:
        for stated in record.deviations.filter(kind=DeviationKind.STATED, disposition=""):
            stated.decide(Disposition.ACCEPT, reason=clean.entered_reason, at=by.now, by=user)
    raise_revision(clean.turnaround)
    return closed

"""Actions on one step: safety checks, start, end, deviations."""

from collections.abc import Iterable

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import EndCriterion, Quantity, Step
from brewhygiene.turnarounds.actions import lock_running_clean, raise_revision
from brewhygiene.turnarounds.models import (
    DECISIONS,
    Clean,
    Deviation,
    DeviationKind,
    Disposition,
    ReadingStage,
    SafetyAcknowledgement,
    StepRecord,
)
from brewhygiene.turnarounds.progress import (
    StepProgress,
    minutes_of,
    open_deviations,
    progress_of,
    to_tenth_below,
    unread_windows,
)
from brewhygiene.turnarounds.quantities import quantity_title
from brewhygiene.turnarounds.readings.actions import lock_record, write_reading
from brewhygiene.turnarounds.residues import refuse_unsafe_step
from brewhygiene.turnarounds.steps.safety import acknowledged_codes, required_codes


def _step_of(clean: Clean, step: Step) -> StepProgress:
    progress = progress_of(clean)
    if all(item.step.pk != step.pk for item in progress.steps):
        raise Refusal("That step belongs to another regime.")
    return progress.of(step)


@action("acknowledge safety checks")
def acknowledge_safety(
    *, by: Actor, clean: Clean, step: Step, codes: Iterable[str]
) -> Recorded[SafetyAcknowledgement]:
    """Record that every caution of a step is heeded, each by its own tick."""
    user = require(by, "work_cellar")
    clean = lock_running_clean(clean)
    step = _step_of(clean, step).step
    needed = required_codes(clean, step)
    missing = set(needed) - set(codes)
    if missing:
        raise Refusal(
            "Tick every line. The step cannot start before.",
            field="codes",
            code="unchecked",
        )
    acknowledgement = SafetyAcknowledgement.objects.create(
        clean=clean,
        step=step,
        codes=list(needed),
        texts=list(needed.values()),
        user=user,
        acknowledged_at=by.now,
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


@action("start step")
def start_step(*, by: Actor, clean: Clean, step: Step) -> Recorded[StepRecord]:
    """Start a step, or its next attempt; its safety checks must be acknowledged."""
    user = require(by, "work_cellar")
    clean = lock_running_clean(clean)
    item = _refuse_unless_startable(clean, step)
    refuse_unsafe_step(clean, item.step)
    if set(required_codes(clean, item.step)) - acknowledged_codes(clean, item.step):
        raise Refusal("Confirm the safety checks of this step first.", field="codes", code="unsafe")
    record = StepRecord.objects.create(
        clean=clean,
        step=item.step,
        attempt=len(item.attempts) + 1,
        extends=item.record if item.extend else None,
        started_at=by.now,
        started_by=user,
    )
    raise_revision(clean.turnaround)
    return Recorded(
        record,
        {"step": str(item.step), "attempt": record.attempt, "extends": item.extend},
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


@action("end step")
def end_step(
    *,
    by: Actor,
    record: StepRecord,
    minutes: float | None = None,
    end_criterion_met: bool | None = None,
    agent_lot: str = "",
    note: str = "",
) -> Recorded[StepRecord]:
    """End a step. Its time is judged, and what was not read or not reached is a deviation.

    ``minutes`` is typed only where the timer was not started with the step.
    """
    user = require(by, "work_cellar")
    clean, item, record = lock_record(record)
    if record.ended_at is not None:
        raise Refusal("This step has already ended.", code="step_ended")
    needs_end = item.step.end_criterion != EndCriterion.NONE
    if needs_end and end_criterion_met is None:
        raise Refusal(
            f"Choose whether the end was reached: {item.step.get_end_criterion_display()}.",
            field="end_criterion_met",
        )
    record.ended_at = by.now
    record.ended_by = user
    record.end_criterion_met = end_criterion_met if needs_end else None
    record.agent_lot = agent_lot.strip()[:40]
    record.note = note.strip()
    record.save()
    timed_min = to_tenth_below(minutes_of(record, until=by.now))
    ran_min = timed_min if minutes is None else minutes
    if item.step.window(Quantity.TIME_MIN) is not None or minutes is not None:
        write_reading(
            by=by,
            record=record,
            step=item.step,
            quantity=Quantity.TIME_MIN,
            value=ran_min,
            basis="",
            stage=ReadingStage.END,
            titration=None,
        )
    for window in unread_windows(record, item.step.windows.all()):
        Deviation.objects.create(
            record=record,
            kind=DeviationKind.NOT_READ,
            quantity=window.quantity,
            description=f"{quantity_title(window.quantity)} was not read",
            found_at=by.now,
        )
    if record.end_criterion_met is False:
        Deviation.objects.create(
            record=record,
            kind=DeviationKind.END_NOT_MET,
            description=f"End not reached: {item.step.get_end_criterion_display()}",
            found_at=by.now,
        )
    raise_revision(clean.turnaround)
    return Recorded(
        record,
        {
            "step": str(item.step),
            "minutes": ran_min,
            "end_reached": record.end_criterion_met,
            "agent_lot": record.agent_lot,
            "note": record.note,
        },
        aggregate=clean.turnaround,
    )


@action("dispose of deviation")
def dispose_deviation(
    *, by: Actor, deviation: Deviation, disposition: str, reason: str = ""
) -> Recorded[Deviation]:
    """Decide on a deviation: repeat or extend the step, accept with a reason, or stop.

    All but to accept decides every open deviation of the attempt alike.
    """
    user = require(by, "work_cellar")
    if disposition not in DECISIONS:
        raise Refusal("Choose a decision.", field="disposition")
    if disposition in (Disposition.ACCEPT, Disposition.STOP) and not reason.strip():
        raise Refusal("Enter a reason.", field="reason", code="no_reason")
    clean, _, record = lock_record(deviation.record)
    deviation = Deviation.objects.select_for_update().get(pk=deviation.pk)
    if deviation.disposition:
        raise Refusal(
            f"{deviation.disposed_by} already decided: {deviation.get_disposition_display()}.",
            code="already_disposed",
        )
    if disposition == Disposition.EXTEND and record.left_out:
        raise Refusal("A step that was left out cannot be extended.", field="disposition")
    if disposition == Disposition.REPEAT and record.ended_at is None:
        # The attempt is given up as it is; its time and end are not judged.
        record.ended_at = by.now
        record.ended_by = user
        record.save(update_fields=["ended_at", "ended_by"])
    # To repeat, extend or stop concerns the attempt: whatever else is open on it goes with it.
    decided = [deviation]
    if disposition != Disposition.ACCEPT:
        decided += [item for item in open_deviations(record) if item.pk != deviation.pk]
    for item in decided:
        item.decide(disposition, reason=reason.strip(), at=by.now, by=user)
    if disposition == Disposition.STOP:
        clean.step_records.filter(ended_at__isnull=True).update(ended_at=by.now, ended_by=user)
        Clean.objects.filter(pk=clean.pk).update(
            stopped_at=by.now, stop_reason=f"{deviation.description}. {reason.strip()}"
        )
    raise_revision(clean.turnaround)
    return Recorded(
        deviation,
        {
            "deviations": [item.description for item in decided],
            "disposition": disposition,
            "reason": deviation.reason,
        },
        aggregate=clean.turnaround,
    )

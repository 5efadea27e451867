"""Verbs of one step: safety checks, start, readings, end, deviations."""

import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.door import Actor, Written, verb
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import EndCriterion, Quantity, Step, StepWindow
from brewhygiene.science.judging import judge_window
from brewhygiene.turnarounds.actions import lock_running_clean, raise_revision
from brewhygiene.turnarounds.models import (
    DECISIONS,
    Clean,
    Deviation,
    DeviationKind,
    Disposition,
    ReadingStage,
    SafetyAcknowledgement,
    StepReading,
    StepRecord,
    Trace,
    WindowVerdict,
)
from brewhygiene.turnarounds.progress import (
    StepProgress,
    minutes_of,
    open_deviations,
    open_unread,
    progress_of,
    standing_readings,
    unread_windows,
)
from brewhygiene.turnarounds.readings import (
    MeterReading,
    Titration,
    check_plausible,
    on_window_basis,
    quantity_title,
    show_value,
)
from brewhygiene.turnarounds.safety import acknowledged_codes, required_codes


def _step_of(clean: Clean, step: Step) -> StepProgress:
    progress = progress_of(clean)
    if all(item.step.pk != step.pk for item in progress.steps):
        raise Refusal("That step belongs to another regime.")
    return progress.of(step)


@verb("acknowledge safety checks")
def acknowledge_safety(
    *, by: Actor, clean: Clean, step: Step, codes: Iterable[str]
) -> Written[SafetyAcknowledgement]:
    """Record that every caution of a step is heeded, each by its own tick."""
    user = require(by, "work_cellar")
    clean = lock_running_clean(clean)
    step = _step_of(clean, step).step
    needed = required_codes(clean, step)
    missing = set(needed) - set(codes)
    if missing:
        raise Refusal(
            "Tick every line; each is a check of its own. The step stays locked until then.",
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
    return Written(
        acknowledgement, {"step": str(step), "checks": needed}, aggregate=clean.turnaround
    )


def _refuse_unless_startable(clean: Clean, step: Step) -> StepProgress:
    current = progress_of(clean).current
    item = _step_of(clean, step)
    if current is None or current.step.pk != step.pk:
        if item.settled:
            raise Refusal(f"{item.step.get_kind_display()} is done already.", code="step_done")
        first = current.step.get_kind_display() if current else "nothing"
        raise Refusal(f"First comes: {first}.", code="out_of_order")
    if item.state == "running":
        raise Refusal("This step is already running.", code="step_running")
    if item.open_deviations:
        raise Refusal("Decide on the open deviation first.", code="open_deviation")
    return item


@verb("start step")
def start_step(*, by: Actor, clean: Clean, step: Step) -> Written[StepRecord]:
    """Start a step, or its next attempt; its safety checks must be acknowledged."""
    user = require(by, "work_cellar")
    clean = lock_running_clean(clean)
    item = _refuse_unless_startable(clean, step)
    if set(required_codes(clean, item.step)) - acknowledged_codes(clean, item.step):
        raise Refusal("Do the safety checks of this step first.", field="codes", code="unsafe")
    record = StepRecord.objects.create(
        clean=clean,
        step=item.step,
        attempt=len(item.attempts) + 1,
        extends=item.record if item.extend else None,
        started_at=by.now,
        started_by=user,
    )
    raise_revision(clean.turnaround)
    return Written(
        record,
        {"step": str(item.step), "attempt": record.attempt, "extends": item.extend},
        aggregate=clean.turnaround,
    )


@verb("leave out step")
def leave_out_step(*, by: Actor, clean: Clean, step: Step, reason: str) -> Written[StepRecord]:
    """Leave a step out: a deviation, to be accepted with a reason or undone by doing it."""
    user = require(by, "work_cellar")
    if not reason.strip():
        raise Refusal("Say why the step is left out.", field="reason")
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
    return Written(
        record, {"step": str(item.step), "reason": reason.strip()}, aggregate=clean.turnaround
    )


def _lock_record(record: StepRecord) -> tuple[Clean, StepProgress, StepRecord]:
    clean = lock_running_clean(record.clean)
    for item in progress_of(clean).steps:
        for attempt in item.attempts:
            if attempt.pk == record.pk:
                return clean, item, attempt
    raise Refusal("That step belongs to another clean.")


def _window(step: Step, quantity: str) -> StepWindow | None:
    return next((w for w in step.windows.all() if w.quantity == quantity), None)


def settle_unread(*, by: Actor, record: StepRecord, quantity: str, reason: str) -> list[Deviation]:
    """Settle that a quantity of an attempt was not read, now that it was. Part of verbs.

    ``record`` with its deviations loaded. What the reading says is judged by itself.
    """
    late = open_unread(record, quantity)
    for item in late:
        item.disposition = Disposition.READ
        item.reason = reason
        item.disposed_at = by.now
        item.disposed_by = by.person
        item.save(update_fields=["disposition", "reason", "disposed_at", "disposed_by"])
    return late


def write_reading(
    *,
    by: Actor,
    record: StepRecord,
    step: Step,
    quantity: str,
    value: float,
    basis: str,
    stage: str,
    titration: Mapping[str, Any] | None,
    corrects: StepReading | None = None,
    correction_reason: str = "",
    trace: Trace | None = None,
    method: str = "",
    taken_at: datetime | None = None,
) -> StepReading:
    """One reading, judged against its window; one outside it is a deviation. Part of verbs.

    ``titration`` is how a strength was found, as it is kept. ``trace`` and ``method`` name its
    evidence where a logger file gave it, ``taken_at`` when it
    was so; else it was taken now.
    """
    brewery = Brewery.current()
    check_plausible(quantity=quantity, value=value, basis=basis, brewery=brewery)
    window = _window(step, quantity)
    verdict, judged = WindowVerdict.NO_WINDOW, None
    if window is not None:
        judged = on_window_basis(value=value, basis=basis, window=window, agent=step.agent)
        verdict = WindowVerdict(
            judge_window(value=judged, minimum=window.minimum, maximum=window.maximum)
        )
    reading = StepReading.objects.create(
        record=record,
        quantity=quantity,
        stage=stage,
        value=value,
        basis=basis,
        typed=show_value(value, quantity=quantity, basis=basis, brewery=brewery),
        titration=dict(titration) if titration else None,
        judged_value=judged,
        verdict=verdict,
        trace=trace,
        method=method,
        taken_at=taken_at or by.now,
        taken_by=by.person,
        client_time=by.client_time,
        corrects=corrects,
        correction_reason=correction_reason,
    )
    if window is not None and verdict != WindowVerdict.WITHIN:
        bound = window.minimum if verdict == WindowVerdict.BELOW else window.maximum
        limit = show_value(bound or 0, quantity=quantity, basis=window.basis, brewery=brewery)
        Deviation.objects.create(
            record=record,
            reading=reading,
            kind=DeviationKind(verdict.value),
            quantity=quantity,
            description=(
                f"{quantity_title(quantity, reading.typed)}, "
                f"{reading.get_stage_display()}: {verdict.value} {limit}"
            )[:200],
            found_at=by.now,
        )
    return reading


@verb("record reading")
def record_reading(
    *,
    by: Actor,
    record: StepRecord,
    quantity: str,
    value: float | None = None,
    basis: str = "",
    stage: str = ReadingStage.RETURN,
    titration: Titration | None = None,
    meter: MeterReading | None = None,
) -> Written[StepReading]:
    """Record one reading of a step and judge it against its window at once.

    ``value`` in the unit of the quantity's name; a strength in ``basis``, or titrated, when
    ``titration`` gives the volumes, or by conductivity, when ``meter`` gives what it showed: the
    value then follows.
    """
    require(by, "work_cellar")
    clean, item, record = _lock_record(record)
    if record.left_out:
        raise Refusal("This step was left out; there is nothing to read.", field="value")
    if record.ended_at is not None and item.record != record:
        raise Refusal("That attempt is over.", code="attempt_over")
    if quantity not in Quantity.values or quantity == Quantity.TIME_MIN:
        raise Refusal("Choose what was read.", field="quantity")
    if stage not in ReadingStage.values:
        raise Refusal("Say where it was read.", field="stage")
    how: dict[str, Any] | None = None
    if quantity == Quantity.CONCENTRATION and titration is not None:
        if item.step.agent is None:
            raise Refusal("This step has no agent to titrate.", field="titrant_ml")
        value = titration.strength_wv(
            agent=item.step.agent, burette_ml=Brewery.current().burette_ml
        )
        basis, how = "wv", titration.as_kept()
    elif quantity == Quantity.CONCENTRATION and meter is not None:
        if item.step.agent is None:
            raise Refusal("This step has no agent to measure.", field="conductivity_ms_cm")
        found = meter.strength(item.step.agent)
        value, basis, how = found.strength, found.basis, meter.as_kept(found)
    if value is None:
        raise Refusal("Type a number.", field="value")
    reading = write_reading(
        by=by,
        record=record,
        step=item.step,
        quantity=quantity,
        value=value,
        basis=basis if quantity == Quantity.CONCENTRATION else "",
        stage=stage,
        titration=how,
    )
    raise_revision(clean.turnaround)
    return Written(
        reading,
        {
            "step": str(item.step),
            "reading": str(reading),
            "stage": stage,
            "value": value,
            "basis": reading.basis,
            "titration": reading.titration,
            "verdict": reading.verdict,
        },
        aggregate=clean.turnaround,
    )


@verb("correct reading")
def correct_reading(
    *, by: Actor, reading: StepReading, value: float, reason: str
) -> Written[StepReading]:
    """Set a reading right by a new one that names it; both stay."""
    require(by, "work_cellar")
    if not reason.strip():
        raise Refusal("Say what was wrong with the first number.", field="reason")
    clean, item, record = _lock_record(reading.record)
    if all(other.pk != reading.pk for other in standing_readings(record)):
        raise Refusal("That reading was corrected already.", code="already_corrected")
    corrected = write_reading(
        by=by,
        record=record,
        step=item.step,
        quantity=reading.quantity,
        value=value,
        basis=reading.basis,
        stage=reading.stage,
        titration=None,
        corrects=reading,
        correction_reason=reason.strip()[:200],
    )
    raise_revision(clean.turnaround)
    return Written(
        corrected,
        {"was": reading.typed, "is": corrected.typed, "reason": reason.strip()},
        aggregate=clean.turnaround,
    )


@verb("end step")
def end_step(
    *,
    by: Actor,
    record: StepRecord,
    minutes: float | None = None,
    end_criterion_met: bool | None = None,
    agent_lot: str = "",
    note: str = "",
) -> Written[StepRecord]:
    """End a step. Its time is judged, and what was not read or not reached is a deviation.

    ``minutes`` is typed only where the timer was not started with the step.
    """
    user = require(by, "work_cellar")
    clean, item, record = _lock_record(record)
    if record.ended_at is not None:
        raise Refusal("This step has ended already.", code="step_ended")
    needs_end = item.step.end_criterion != EndCriterion.NONE
    if needs_end and end_criterion_met is None:
        raise Refusal(
            f"Say whether it was reached: {item.step.get_end_criterion_display()}.",
            field="end_criterion_met",
        )
    record.ended_at = by.now
    record.ended_by = user
    record.end_criterion_met = end_criterion_met if needs_end else None
    record.agent_lot = agent_lot.strip()[:40]
    record.note = note.strip()
    record.save()
    # The timer to a tenth of a minute, never upwards: a step is not made longer than it was.
    timed_min = math.floor(minutes_of(record, until=by.now) * 10 + 1e-6) / 10
    ran_min = timed_min if minutes is None else minutes
    if _window(item.step, Quantity.TIME_MIN) is not None or minutes is not None:
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
    return Written(
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


@verb("dispose of deviation")
def dispose_deviation(
    *, by: Actor, deviation: Deviation, disposition: str, reason: str = ""
) -> Written[Deviation]:
    """Decide on a deviation: repeat or extend the step, accept with a reason, or stop.

    All but to accept decides every open deviation of the attempt alike.
    """
    user = require(by, "work_cellar")
    if disposition not in DECISIONS:
        raise Refusal("Choose what to do about it.", field="disposition")
    if disposition in (Disposition.ACCEPT, Disposition.STOP) and not reason.strip():
        raise Refusal("Say why.", field="reason", code="no_reason")
    clean, _, record = _lock_record(deviation.record)
    deviation = Deviation.objects.select_for_update().get(pk=deviation.pk)
    if deviation.disposition:
        raise Refusal(
            f"{deviation.disposed_by} decided already: {deviation.get_disposition_display()}.",
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
        item.disposition = disposition
        item.reason = reason.strip()
        item.disposed_at = by.now
        item.disposed_by = user
        item.save(update_fields=["disposition", "reason", "disposed_at", "disposed_by"])
    if disposition == Disposition.STOP:
        clean.step_records.filter(ended_at__isnull=True).update(ended_at=by.now, ended_by=user)
        Clean.objects.filter(pk=clean.pk).update(
            stopped_at=by.now, stop_reason=f"{deviation.description}. {reason.strip()}"
        )
    raise_revision(clean.turnaround)
    return Written(
        deviation,
        {
            "deviations": [item.description for item in decided],
            "disposition": disposition,
            "reason": deviation.reason,
        },
        aggregate=clean.turnaround,
    )

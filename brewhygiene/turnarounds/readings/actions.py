"""Actions on a step's readings: recorded, corrected, and what was left unread settled."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.sources import CLAIMED, ValueSource, source_of_correction
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Quantity, Step
from brewhygiene.science.judging import judge_window
from brewhygiene.science.tank.indicators import suiting
from brewhygiene.turnarounds.actions import (
    lock_running_clean,
    raise_revision,
)
from brewhygiene.turnarounds.contact import judged_minutes
from brewhygiene.turnarounds.models import (
    Clean,
    LoggerFile,
    ReadingStage,
    StepReading,
    StepRecord,
    WindowVerdict,
)
from brewhygiene.turnarounds.models.deviations import Deviation, DeviationKind, Disposition
from brewhygiene.turnarounds.progress import (
    StepProgress,
    minutes_of,
    open_unread,
    progress_of,
    residue_before,
    standing_deviations,
    standing_readings,
    to_tenth_below,
)
from brewhygiene.turnarounds.quantities import (
    Colour,
    MeterReading,
    Titration,
    check_plausible,
    minutes_words,
    on_window_basis,
    quantity_title,
    show_value,
)
from brewhygiene.turnarounds.readings.late import is_after_end, lock_undecided_clean, when_read


def lock_record(
    record: StepRecord, *, after_end: bool = False
) -> tuple[Clean, StepProgress, StepRecord]:
    """The attempt with its clean, locked; refused once the clean has ended.

    ``after_end`` also of a finished clean, while nothing was decided on it and nothing filled.
    """
    clean = lock_undecided_clean(record.clean) if after_end else lock_running_clean(record.clean)
    for item in progress_of(clean).steps:
        for attempt in item.attempts:
            if attempt.pk == record.pk:
                return clean, item, attempt
    raise Refusal("That step belongs to another clean.")


def settle_unread(*, by: Actor, record: StepRecord, quantity: str, reason: str) -> list[Deviation]:
    """Settle that a quantity of an attempt was not read, now that it was. Part of actions.

    ``record`` with its deviations loaded. What the reading says is judged by itself.
    """
    late = open_unread(record, quantity)
    for item in late:
        item.decide(Disposition.READ, reason=reason, at=by.now, by=by.person)
    return late


def short_contact_words(minutes: float, limit: str, *, timer: str) -> str:
    """What a deviation says of a contact time below its minimum.

    >>> short_contact_words(12.5, "20 min", timer="30 min")
    'Contact time in window 12.5 min: below 20 min (timer 30 min)'
    """
    return f"Contact time in window {minutes_words(minutes)}: below {limit} (timer {timer})"


def judge_contact_again(*, by: Actor, record: StepRecord) -> Deviation | None:
    """The deviation of an ended attempt whose contact time a later reading made short.

    Part of actions. ``None`` where it is not short, or where its time is a deviation already.
    """
    if record.ended_at is None or record.left_out:
        return None
    record = StepRecord.objects.select_related("step", "extends").get(pk=record.pk)
    window = record.step.window(Quantity.TIME_MIN)
    contact = judged_minutes(record, record.step, until=by.now)
    if window is None or contact is None:
        return None
    found = judge_window(value=contact, minimum=window.minimum, maximum=None)
    short = (DeviationKind.BELOW, Quantity.TIME_MIN)
    if found != "below" or short in {(d.kind, d.quantity) for d in standing_deviations(record)}:
        return None
    brewery = Brewery.current()
    limit, timer = (
        show_value(value, quantity=Quantity.TIME_MIN, basis="", brewery=brewery)
        for value in (window.minimum or 0, to_tenth_below(minutes_of(record, until=by.now)))
    )
    return Deviation.objects.create(
        record=record,
        kind=DeviationKind.BELOW,
        quantity=Quantity.TIME_MIN,
        description=short_contact_words(contact, limit, timer=timer),
        found_at=by.now,
    )


def judge_contact_after_end(*, by: Actor, record: StepRecord, clean: Clean) -> None:
    """The same where a reading arrived after its clean was finished. Part of actions."""
    if clean.finished_at is not None:
        judge_contact_again(by=by, record=record)


def write_reading(
    *,
    by: Actor,
    record: StepRecord,
    step: Step,
    quantity: str,
    value: float,
    source: ValueSource,
    basis: str,
    stage: str,
    titration: Mapping[str, Any] | None,
    corrects: StepReading | None = None,
    correction_reason: str = "",
    logger_file: LoggerFile | None = None,
    method: str = "",
    taken_at: datetime | None = None,
    contact_min: float | None = None,
    typed: str = "",
    below: list[list[str | None]] | None = None,
) -> StepReading:
    """One reading, judged against its window; one outside it is a deviation. Part of actions.

    So is one within it that is only claimed: ``source`` says where the value is from.
    ``titration`` is how a strength was found, as kept. ``logger_file`` and ``method`` name its
    evidence where a logger file gave it, ``taken_at`` when it was so; else it was taken now;
    ``below`` when a flow was below its window. Minutes too short are told by ``contact_min``,
    where the contact time was worked out; too long, by the value itself.
    """
    brewery = Brewery.current()
    check_plausible(quantity=quantity, value=value, basis=basis, brewery=brewery)
    # What the supply water reads is compared with; no window is set for it.
    window = step.window(quantity) if stage != ReadingStage.SUPPLY else None
    verdict, judged = WindowVerdict.NO_WINDOW, None
    if window is not None:
        judged = on_window_basis(value=value, basis=basis, window=window, agent=step.agent)
        if contact_min is not None:
            judged = contact_min
        verdict = WindowVerdict(
            judge_window(value=judged, minimum=window.minimum, maximum=window.maximum)
        )
    reading = StepReading.objects.create(
        record=record,
        quantity=quantity,
        stage=stage,
        value=value,
        source=source,
        basis=basis,
        typed=typed or show_value(value, quantity=quantity, basis=basis, brewery=brewery),
        titration=dict(titration) if titration else None,
        judged_value=judged,
        verdict=verdict,
        logger_file=logger_file,
        method=method,
        below=below,
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
                short_contact_words(contact_min, limit, timer=reading.typed)
                if contact_min is not None
                else f"{quantity_title(quantity, reading.typed)}, "
                f"{reading.get_stage_display()}: {verdict.value} {limit}"
            ),
            found_at=by.now,
        )
    elif source in CLAIMED:
        Deviation.objects.create(
            record=record,
            reading=reading,
            kind=DeviationKind.STATED,
            quantity=quantity,
            description=f"{quantity_title(quantity, reading.typed)}: {source.label}"[:200],
            found_at=by.now,
        )
    return reading


def _by_colour(clean: Clean, step: Step, colour: Colour, *, stage: str) -> float:
    """The pH to keep of a colour; refused where it cannot show what the step before left."""
    value = colour.value
    if stage == ReadingStage.SUPPLY or step.window(Quantity.PH) is not None:
        raise Refusal("A colour is too coarse here. Read the pH.", field="colour", code="coarse")
    if colour.indicator not in {one.code for one in suiting(residue_before(clean, step))}:
        raise Refusal(
            "This indicator cannot show what the step before left. Choose another.",
            field="colour",
            code="shows_nothing",
        )
    return value


@action("record reading")
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
    colour: Colour | None = None,
    read_at: datetime | None = None,
) -> Recorded[StepReading]:
    """Record one reading of a step and judge it against its window at once.

    ``value`` in the unit of the quantity's name; a strength in ``basis``, or titrated, when
    ``titration`` gives the volumes, or by conductivity, when ``meter`` gives what it showed: the
    value then follows. A pH may be the ``colour`` of an indicator, which is a range. ``read_at``
    is when it was read, where that was before now: within the attempt, not before it began.
    """
    require(by, "work_cellar")
    clean, item, record = lock_record(record, after_end=is_after_end(by))
    read_at = when_read(read_at, by=by, record=record)
    if record.left_out:
        raise Refusal("This step was left out. Repeat it to record a reading.", field="value")
    if record.ended_at is not None and item.record != record:
        raise Refusal(
            "That attempt has ended. Record the reading in the step that runs now.",
            code="attempt_over",
        )
    if quantity not in Quantity.values or quantity == Quantity.TIME_MIN:
        raise Refusal("Choose a quantity.", field="quantity")
    if stage not in ReadingStage.values:
        raise Refusal("Choose when it was read.", field="stage")
    how: dict[str, Any] | None = None
    source = ValueSource.READ
    if quantity == Quantity.CONCENTRATION and titration is not None:
        if item.step.agent is None:
            raise Refusal("This step has no agent. Choose another quantity.", field="titrant_ml")
        value = titration.strength_wv(
            agent=item.step.agent, burette_ml=Brewery.current().burette_ml
        )
        basis, how, source = "wv", titration.as_kept(), ValueSource.CALCULATED
    elif quantity == Quantity.CONCENTRATION and meter is not None:
        if item.step.agent is None:
            raise Refusal(
                "This step has no agent. Choose another quantity.", field="conductivity_ms_cm"
            )
        found = meter.strength(item.step.agent)
        value, basis, how = found.strength, found.basis, meter.as_kept(found)
        source = ValueSource.CALCULATED
    elif quantity == Quantity.PH and colour is not None:
        value, how = _by_colour(clean, item.step, colour, stage=stage), colour.as_kept()
    if value is None:
        raise Refusal("Enter a number.", field="value")
    reading = write_reading(
        by=by,
        record=record,
        step=item.step,
        quantity=quantity,
        value=value,
        source=source,
        basis=basis if quantity == Quantity.CONCENTRATION else "",
        stage=stage,
        titration=how,
        typed=colour.words if colour is not None else "",
        taken_at=read_at,
    )
    judge_contact_after_end(by=by, record=record, clean=clean)
    raise_revision(clean.turnaround)
    return Recorded(
        reading,
        {
            "step": str(item.step),
            "reading": str(reading),
            "stage": stage,
            **({"taken_at": read_at} if read_at is not None else {}),
            "value": value,
            "source": reading.source,
            "basis": reading.basis,
            "titration": reading.titration,
            "verdict": reading.verdict,
        },
        aggregate=clean.turnaround,
    )


@action("correct reading")
def correct_reading(
    *, by: Actor, reading: StepReading, value: float, reason: str
) -> Recorded[StepReading]:
    """Set a reading right by a new one that names it; both stay."""
    require(by, "work_cellar")
    if not reason.strip():
        raise Refusal("Enter why the reading is corrected.", field="reason")
    clean, item, record = lock_record(reading.record)
    if reading.quantity == Quantity.TIME_MIN:
        raise Refusal(
            "Minutes are not corrected: extend or repeat the step, or accept the deviation.",
            field="value",
            code="time_corrected",
        )
    if all(other.pk != reading.pk for other in standing_readings(record)):
        raise Refusal(
            "That reading is already corrected. Correct the new one.", code="already_corrected"
        )
    corrected = write_reading(
        by=by,
        record=record,
        step=item.step,
        quantity=reading.quantity,
        value=value,
        # What an instrument or a sum gave, and is now said to be another, is only said.
        source=source_of_correction(reading.source),
        basis=reading.basis,
        stage=reading.stage,
        titration=None,
        corrects=reading,
        correction_reason=reason.strip()[:200],
    )
    judge_contact_again(by=by, record=record)
    raise_revision(clean.turnaround)
    return Recorded(
        corrected,
        {
            "was": reading.typed,
            "is": corrected.typed,
            "source": corrected.source,
            "reason": reason.strip(),
        },
        aggregate=clean.turnaround,
    )

"""Readings that arrive after they were taken: when they may be from, and of which cleans."""

from datetime import datetime

from brewhygiene.ledger.recording import Actor
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when, lock_open_turnaround
from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.questions import was_decided


def is_after_end(by: Actor) -> bool:
    """Whether a person chose to record it though its clean is finished."""
    return by.arrived is not None and by.arrived.after_end


def lock_undecided_clean(clean: Clean) -> Clean:
    """The same of a clean that may be finished; refused once it was stopped or decided on."""
    lock_open_turnaround(clean.turnaround)
    loaded = cleans_with_records().get(pk=clean.pk)
    if loaded.stopped_at is not None:
        raise Refusal("This clean was stopped.", code="clean_ended")
    if loaded.finished_at is None:
        return loaded
    if was_decided(loaded.turnaround, loaded.finished_at):
        raise Refusal(
            "The vessel was held or released since. Close this with a reason, and tell the head "
            "brewer.",
            code="decided_since",
        )
    return loaded


def when_read(read_at: datetime | None, *, by: Actor, record: StepRecord) -> datetime | None:
    """A time before now, within the attempt; refused before it began. ``None`` is now.

    Of a finished clean only what was read while its step ran.
    """
    finished = record.clean.finished_at is not None
    if read_at is None:
        if finished:
            _refuse_after_step(by.now, record=record)
        return None
    read_at = check_when(read_at, by=by, field="value", not_before=record.started_at)
    if read_at < record.started_at:
        raise Refusal(
            "By the tablet's clock this was read before the step began. Record it again.",
            field="value",
            code="before_step",
        )
    if finished:
        _refuse_after_step(read_at, record=record)
    return read_at


def _refuse_after_step(read_at: datetime, *, record: StepRecord) -> None:
    """Refuse what was not read while its step ran. Of finished cleans."""
    if record.ended_at is None or read_at > record.ended_at:
        raise Refusal(
            "By the tablet's clock this was read after its step had ended. Close it with a reason.",
            field="value",
            code="after_step",
        )

"""Between which times a step can have run."""

from datetime import datetime

from django.utils import timezone

from brewhygiene.ledger.recording import Actor
from brewhygiene.quantities.style import shown_moment, told
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.models import Clean


def earliest_start(clean: Clean) -> datetime:
    """Before this no step that is still to be done can have run."""
    ends = [record.ended_at for record in clean.step_records.all() if record.ended_at is not None]
    return max([clean.turnaround.opened_at, clean.started_at, *ends])


def check_bracket(clean: Clean, *, by: Actor, started_at: datetime, ended_at: datetime) -> None:
    """Refuse times in which the step cannot have run."""
    earliest = earliest_start(clean)
    # Times are typed to the minute: one of the same minute is meant.
    if started_at < earliest.replace(second=0, microsecond=0):
        shown = timezone.localtime(earliest)
        with told():
            raise Refusal(
                f"The step before it ended, or the clean began, at {shown_moment(shown, 'H:i')}. "
                "Enter a later start.",
                field="started_at",
                code="before_its_turn",
            )
    if ended_at > by.now:
        raise Refusal(
            "Enter an end that is not in the future.", field="ended_at", code="in_the_future"
        )
    if ended_at <= started_at:
        raise Refusal("Enter an end after the start.", field="ended_at", code="end_before_start")

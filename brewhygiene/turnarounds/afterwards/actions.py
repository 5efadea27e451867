"""A clean that was done before it was entered: how it begins. Its steps are stated one by one."""

from datetime import datetime

from django.utils import timezone

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.style import shown_moment, told
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.skids.models import Skid
from brewhygiene.turnarounds.actions import (
    check_when,
    lock_open_turnaround,
    new_clean,
    of_new_clean,
)
from brewhygiene.turnarounds.models import Clean, Turnaround


def _check_begun(turnaround: Turnaround, started_at: datetime, *, by: Actor) -> datetime:
    """When a clean that was done already began: after emptying and any clean, not beyond now."""
    ends = [
        end
        for clean in turnaround.cleans.all()
        for end in (clean.finished_at, clean.stopped_at)
        if end is not None
    ]
    earliest = max([turnaround.opened_at, *ends])
    started_at = check_when(started_at, by=by, field="started_at", not_before=earliest)
    if started_at < earliest:
        shown = timezone.localtime(earliest)
        with told():
            day, clock = shown_moment(shown, "j F"), shown_moment(shown, "H:i")
        raise Refusal(
            f"The vessel was emptied, or the clean before it ended, on {day} at {clock}. "
            "Enter a later start.",
            field="started_at",
            code="before_its_turn",
        )
    return started_at


@action("enter clean afterwards")
def enter_clean(
    *,
    by: Actor,
    turnaround: Turnaround,
    version: RegimeVersion,
    started_at: datetime,
    reason: str,
    weaker_reason: str = "",
    skid: Skid | None = None,
    hose: Skid | None = None,
) -> Recorded[Clean]:
    """Begin to enter a clean that was done already: its steps are stated one by one.

    It carries its mark for good. What is stated passes no check alone.
    """
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    if not reason.strip():
        raise Refusal("Enter why it was not recorded when it was done.", field="entered_reason")
    clean = new_clean(
        by=by,
        turnaround=turnaround,
        version=version,
        weaker_reason=weaker_reason,
        skid=skid,
        hose=hose,
        started_at=_check_begun(turnaround, started_at, by=by),
        entered_at=by.now,
        entered_by=user,
        entered_reason=reason.strip()[:200],
    )
    return Recorded(
        clean,
        {
            **of_new_clean(clean),
            "started_at": clean.started_at,
            "entered_afterwards": clean.entered_reason,
        },
        aggregate=turnaround,
    )

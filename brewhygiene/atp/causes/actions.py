"""Recording the cause of a reading over a limit or of a held vessel."""

from datetime import datetime

from brewhygiene.atp.models.causes import Cause, FoundCause, fits
from brewhygiene.atp.models.readings import Result
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when, lock_turnaround, raise_revision
from brewhygiene.turnarounds.models import Turnaround


@action("record found cause")
def record_found_cause(
    *,
    by: Actor,
    turnaround: Turnaround,
    cause: str,
    result: Result | None = None,
    note: str = "",
    found_at: datetime | None = None,
) -> Recorded[FoundCause]:
    """Record what was found, at one reading or for the vessel as a whole.

    It may be recorded after the vessel was filled, and there may be several. The reading and the
    hold stay as they are.
    """
    user = require(by, "work_cellar")
    turnaround = lock_turnaround(turnaround)
    if cause not in Cause.values:
        raise Refusal("Choose a cause.", field="cause")
    if result is not None and result.turnaround_id != turnaround.pk:
        raise Refusal("This reading belongs to another turnaround.", field="result")
    if result is not None and not fits(cause, result.point.sample_kind):
        raise Refusal(
            f"A {result.point.sample_kind} sample does not show “{Cause(cause).label}”. Choose "
            "another cause, or the vessel as a whole.",
            field="cause",
            code="other_kind",
        )
    found_at = check_when(
        found_at or by.now, by=by, field="found_at", not_before=turnaround.opened_at
    )
    if found_at < turnaround.opened_at:
        raise Refusal("Enter a time after the vessel was emptied.", field="found_at")
    if FoundCause.objects.filter(turnaround=turnaround, result=result, cause=cause).exists():
        raise Refusal("This cause is already recorded.", field="cause", code="already_recorded")
    found = FoundCause.objects.create(
        turnaround=turnaround,
        result=result,
        cause=cause,
        note=note.strip()[:200],
        found_at=found_at,
        recorded_by=user,
    )
    raise_revision(turnaround)
    return Recorded(
        found,
        {
            "cause": cause,
            "result": result.pk if result else None,
            "note": found.note,
            "found_at": found_at,
        },
        aggregate=turnaround,
    )

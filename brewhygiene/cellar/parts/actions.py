"""The action on a vessel's parts. What is read after it is a new phase of the points' charts."""

from datetime import datetime, timedelta

from brewhygiene.cellar.models import PartWork, PartWorkKind, SamplingPoint, Vessel
from brewhygiene.cellar.vessels.actions import lock_vessel
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal

# A tablet's clock and the server's may disagree by this much before "future" is meant.
CLOCK_ALLOWANCE = timedelta(minutes=2)


@action("record part work")
def record_part_work(
    *,
    by: Actor,
    vessel: Vessel,
    kind: str,
    done_at: datetime,
    point: SamplingPoint | None = None,
    note: str = "",
) -> Recorded[PartWork]:
    """Record work on a part of a vessel: of one sampling point, or of the whole vessel."""
    user = require(by, "work_cellar")
    vessel = lock_vessel(vessel)
    if kind not in PartWorkKind.values:
        raise Refusal("Choose what was done.", field="kind")
    if point is not None and point.vessel_id != vessel.pk:
        raise Refusal(f"Choose a sampling point of {vessel.name}.", field="point")
    if done_at > by.now + CLOCK_ALLOWANCE:
        raise Refusal("Enter a time that is not in the future.", field="done_at")
    if kind == PartWorkKind.PART and not note.strip():
        raise Refusal("Enter which part it was.", field="note")
    work = PartWork.objects.create(
        vessel=vessel,
        point=point,
        kind=kind,
        note=note.strip()[:200],
        done_at=min(done_at, by.now),
        recorded_by=user,
    )
    return Recorded(
        work,
        {
            "vessel": vessel.name,
            "point": point.name if point else None,
            "kind": kind,
            "done_at": work.done_at,
            "note": work.note,
        },
        aggregate=vessel,
    )

"""What is decided on a deviation."""

from datetime import datetime
from typing import Any

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Quantity
from brewhygiene.turnarounds.actions import check_when, raise_revision
from brewhygiene.turnarounds.models import (
    Clean,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import (
    DECISIONS,
    Deviation,
    DeviationKind,
    Disposition,
)
from brewhygiene.turnarounds.progress import StepProgress, open_deviations
from brewhygiene.turnarounds.readings.actions import lock_record

# What puts right which quantity that read too low, while its step runs.
PUTS_RIGHT: dict[str, Quantity] = {
    Disposition.TOP_UP: Quantity.CONCENTRATION,
    Disposition.HEAT: Quantity.TEMPERATURE_C,
}
MOST_ADDED_KG = 5000


def needs_server(disposition: str, *, running: bool) -> bool:
    """Whether a decision cannot wait for the network: it ends the clean, or starts a step.

    >>> needs_server("top_up", running=True), needs_server("extend", running=True)
    (False, False)
    >>> needs_server("extend", running=False), needs_server("stop", running=True)
    (True, True)
    """
    if disposition == Disposition.EXTEND:
        return not running
    return disposition in (Disposition.REPEAT, Disposition.STOP)


def came_late(deviation: Deviation) -> bool:
    """Whether it was found after its clean was finished. ``record__clean`` loaded."""
    finished_at = deviation.record.clean.finished_at
    return finished_at is not None and deviation.found_at > finished_at


def _when_decided(
    decided_at: datetime | None, *, by: Actor, deviation: Deviation, record: StepRecord, to: str
) -> datetime:
    """A time before now, after the deviation was found; now where none is given."""
    if decided_at is None:
        return by.now
    if needs_server(to, running=record.ended_at is None):
        raise Refusal(
            "This decision needs the network. Decide now.", field="disposition", code="needs_server"
        )
    found_at = deviation.found_at
    decided_at = check_when(decided_at, by=by, field="disposition", not_before=found_at)
    if decided_at < found_at:
        raise Refusal(
            "By the tablet's clock this was decided before the deviation was found. Decide again.",
            field="disposition",
            code="before_deviation",
        )
    return decided_at


def _put_right(
    item: StepProgress,
    record: StepRecord,
    deviation: Deviation,
    disposition: str,
    added_kg: float | None,
    agent_lot: str,
) -> dict[str, Any] | None:
    """What is kept of a top-up; refuses one of what is not weak, or heat for what is not cold."""
    quantity = PUTS_RIGHT.get(disposition)
    if quantity is None:
        return None
    low = deviation.quantity == quantity and deviation.kind == DeviationKind.BELOW
    if not low or record.ended_at is not None:
        raise Refusal(
            "Choose another decision: only a solution that read too low in a running step can "
            "be topped up or heated.",
            field="disposition",
            code="nothing_to_put_right",
        )
    if disposition == Disposition.HEAT:
        return None
    if added_kg is None or not 0 < added_kg <= MOST_ADDED_KG:
        raise Refusal(
            f"Enter how much was added, above 0 and up to {MOST_ADDED_KG} kg.",
            field="added_kg",
            code="no_amount",
        )
    agent = item.step.agent
    return {
        "kg": added_kg,
        "agent": agent.name if agent is not None else "",
        "lot": agent_lot.strip()[:40],
    }


@action("dispose of deviation")
def dispose_deviation(
    *,
    by: Actor,
    deviation: Deviation,
    disposition: str,
    reason: str = "",
    added_kg: float | None = None,
    agent_lot: str = "",
    decided_at: datetime | None = None,
) -> Recorded[Deviation]:
    """Decide on a deviation: put it right, repeat or extend the step, accept it, or stop.

    A weak solution is topped up with ``added_kg`` of its agent, a cold one heated up: what was
    read of it has to be read again. To repeat, extend or stop decides every open deviation of
    the attempt alike. ``decided_at`` is when, where that was without a network: only what leaves
    the step as it runs, or as it ended, is decided so.
    """
    user = require(by, "work_cellar")
    if disposition not in DECISIONS:
        raise Refusal("Choose a decision.", field="disposition")
    if disposition in (Disposition.ACCEPT, Disposition.STOP) and not reason.strip():
        raise Refusal("Enter a reason.", field="reason", code="no_reason")
    # What came to light after a clean was finished is accepted with a reason, or not at all.
    clean, item, record = lock_record(
        deviation.record, after_end=disposition == Disposition.ACCEPT and came_late(deviation)
    )
    deviation = Deviation.objects.select_for_update().get(pk=deviation.pk)
    if deviation.disposition:
        raise Refusal(
            f"{deviation.disposed_by} already decided: {deviation.get_disposition_display()}.",
            code="already_disposed",
        )
    at = _when_decided(decided_at, by=by, deviation=deviation, record=record, to=disposition)
    added = _put_right(item, record, deviation, disposition, added_kg, agent_lot)
    if disposition == Disposition.EXTEND and record.left_out:
        raise Refusal("A step that was left out cannot be extended.", field="disposition")
    if disposition == Disposition.REPEAT and record.ended_at is None:
        # The attempt is given up as it is; its time and end are not judged.
        record.ended_at = by.now
        record.ended_by = user
        record.save(update_fields=["ended_at", "ended_by"])
    # To repeat, extend or stop concerns the attempt: whatever else is open on it goes with it.
    decided = [deviation]
    if disposition not in (Disposition.ACCEPT, Disposition.TOP_UP, Disposition.HEAT):
        decided += [other for other in open_deviations(record) if other.pk != deviation.pk]
    for one in decided:
        one.decide(disposition, reason=reason.strip(), at=at, by=user, added=added)
    if disposition == Disposition.STOP:
        clean.step_records.filter(ended_at__isnull=True).update(ended_at=by.now, ended_by=user)
        Clean.objects.filter(pk=clean.pk).update(
            stopped_at=by.now, stop_reason=f"{deviation.description}. {reason.strip()}"
        )
    raise_revision(clean.turnaround)
    return Recorded(
        deviation,
        {
            "deviations": [one.description for one in decided],
            "disposition": disposition,
            "added": added,
            **({"decided_at": at} if decided_at is not None else {}),
            "reason": deviation.reason,
        },
        aggregate=clean.turnaround,
    )

"""Actions on a running step's flow: lost, and back."""

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import raise_revision
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.models.flow import FlowLoss
from brewhygiene.turnarounds.readings.actions import lock_record


def _refuse_unless_running(record: StepRecord) -> None:
    if record.ended_at is not None:
        raise Refusal("This step has already ended.", code="step_ended")


@action("record flow lost")
def lose_flow(*, by: Actor, record: StepRecord) -> Recorded[FlowLoss]:
    """Record that the flow of a running step is lost: contact time pauses from now on."""
    user = require(by, "work_cellar")
    clean, item, record = lock_record(record)
    _refuse_unless_running(record)
    if record.flow_losses.filter(back_at__isnull=True).exists():
        raise Refusal("The flow is already recorded as lost.", code="flow_already_lost")
    loss = FlowLoss.objects.create(record=record, lost_at=by.now, lost_by=user)
    raise_revision(clean.turnaround)
    return Recorded(loss, {"step": str(item.step)}, aggregate=clean.turnaround)


@action("record flow back")
def regain_flow(*, by: Actor, record: StepRecord) -> Recorded[FlowLoss]:
    """Record that the flow of a running step is back: contact time goes on from now."""
    user = require(by, "work_cellar")
    clean, item, record = lock_record(record)
    _refuse_unless_running(record)
    loss = record.flow_losses.select_for_update().filter(back_at__isnull=True).first()
    if loss is None:
        raise Refusal("The flow is not recorded as lost.", code="flow_not_lost")
    loss.back_at, loss.back_by = by.now, user
    loss.save(update_fields=["back_at", "back_by"])
    lost_s = round((loss.back_at - loss.lost_at).total_seconds())
    raise_revision(clean.turnaround)
    return Recorded(loss, {"step": str(item.step), "lost_s": lost_s}, aggregate=clean.turnaround)

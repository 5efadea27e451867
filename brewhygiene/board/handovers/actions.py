"""Actions on the end of a shift: hand over, and read what was handed over."""

from brewhygiene.board.handovers.models import Handover, HandoverRead
from brewhygiene.board.handovers.queries import half_done
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal


@action("hand over")
def hand_over(*, by: Actor, note: str = "") -> Recorded[Handover]:
    """Keep what is half done as it stands now, with a note for the next hand."""
    user = require(by, "work_cellar")
    handover = Handover.objects.create(
        note=note.strip(),
        lines=[line.kept for line in half_done(now=by.now)],
        handed_over_at=by.now,
        handed_over_by=user,
    )
    return Recorded(handover, {"note": handover.note, "vessels": len(handover.lines)})


@action("read handover")
def read_handover(*, by: Actor, handover: Handover) -> Recorded[HandoverRead]:
    """Say that one has read what the last shift left."""
    user = require(by, "work_cellar")
    if handover.handed_over_by_id == user.pk:
        raise Refusal("This is your own handover. Somebody else reads it.", code="own")
    if HandoverRead.objects.filter(handover=handover, read_by=user).exists():
        raise Refusal("You have read this handover already.", code="read")
    read = HandoverRead.objects.create(handover=handover, read_at=by.now, read_by=user)
    return Recorded(read, {"handover": handover.pk})

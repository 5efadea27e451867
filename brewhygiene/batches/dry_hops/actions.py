"""The action of a dry hop: hops into what a vessel contains, through the gear that doses them."""

from collections.abc import Sequence
from datetime import datetime

from brewhygiene.batches.brews.queries import fill_at
from brewhygiene.batches.holds import refuse_gone
from brewhygiene.batches.models.movements import MOST_ADDED, Movement, MovementKind
from brewhygiene.batches.moving import keep_movement
from brewhygiene.batches.transfers.actions import check_equipment
from brewhygiene.cellar.models import Vessel
from brewhygiene.changeovers.crossing import refuse_crossing
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when


@action("record dry hop")
def dry_hop(
    *,
    by: Actor,
    vessel: Vessel,
    hops: str,
    hopped_at: datetime,
    through: Sequence[Vessel] = (),
) -> Recorded[Movement]:
    """Record hops, with their amount and lot in words, added to the beer of a vessel.

    ``through`` is the gear that dosed them: the beer comes into it, so that it carries what the
    beer does, and gives the beer what it carried.
    """
    require(by, "work_cellar")
    hopped_at = check_when(hopped_at, by=by, field="hopped_at")
    hops = " ".join(hops.split())
    if not hops:
        raise Refusal("Enter the hops and their lot.", field="hops")
    if len(hops) > MOST_ADDED:
        raise Refusal(f"Enter at most {MOST_ADDED} characters.", field="hops")
    check_equipment(through)
    link = fill_at(vessel, hopped_at, field="hopped_at")
    refuse_gone(link.batch)
    refuse_crossing(link.batch.beer, until=hopped_at, through=through)
    movement = keep_movement(
        by=by,
        kind=MovementKind.DRY_HOP,
        moved_at=hopped_at,
        source=None,
        target=link.fill,
        through=through,
        added=hops,
    )
    return Recorded(
        movement,
        {
            "vessel": vessel.name,
            "batch": link.batch.number,
            "hops": hops,
            "through": [one.name for one in through],
            "hopped_at": hopped_at,
        },
        aggregate=link.batch,
    )

"""What batches answer to the rooms below them."""

from collections.abc import Sequence

from brewhygiene.batches.brews.filled import keep_batch_of
from brewhygiene.batches.holds import hold_at_risk
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.plates.models import Plate
from brewhygiene.plates.questions import held_by_plate
from brewhygiene.release.questions import batch_of_fill


@batch_of_fill.answered_by
def kept_batch(by: Actor, fill: Fill, through: Sequence[Vessel] | None) -> None:
    """Its batch, written with it."""
    keep_batch_of(fill, by=by, through=through)


@held_by_plate.answered_by
def held(by: Actor, plate: Plate) -> list[str]:
    """What is held, written with the plate's reading."""
    return hold_at_risk(plate, by=by)

"""What is kept of every fill: its batch, and how the beer came there. Called inside actions."""

from collections.abc import Sequence
from datetime import datetime

from brewhygiene.batches.holds import hold_by_crossing, hold_by_vessel, refuse_gone
from brewhygiene.batches.models.batches import Batch, BatchFill
from brewhygiene.batches.models.movements import MovementKind
from brewhygiene.batches.moving import keep_movement
from brewhygiene.batches.numbers import key_of, tidy
from brewhygiene.cellar.models import Beer, Fill, Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.refusals import Refusal


def batch_named(number: str) -> Batch | None:
    """The batch of a number, however it is spelt. 1 query."""
    return Batch.objects.select_related("beer").filter(number_key=key_of(number)).first()


def make_batch(
    *,
    by: Actor,
    number: str,
    beer: Beer,
    brewed_at: datetime,
    volume_hl: float,
    blended: bool = False,
    before_record: bool = False,
) -> Batch:
    """Write a batch; refused where its number is taken."""
    if not number.strip():
        raise Refusal("Enter the batch.", field="number")
    if (known := batch_named(number)) is not None:
        raise Refusal(
            f"Batch {known.number} is already recorded: {known.beer}. Enter another number.",
            field="number",
            code="twice",
        )
    return Batch.objects.create(
        number=tidy(number),
        number_key=key_of(number),
        beer=beer,
        brewed_at=brewed_at,
        volume_hl=volume_hl,
        blended=blended,
        before_record=before_record,
        recorded_by=by.person,
    )


def keep_batch_of(fill: Fill, *, by: Actor, through: Sequence[Vessel] | None) -> BatchFill:
    """Say which batch a vessel was filled with, new or known, and how it came there.

    A known batch that comes without its source may come from any vessel that it was in.
    """
    batch = batch_named(fill.batch)
    if batch is None:
        batch = make_batch(
            by=by,
            number=fill.batch,
            beer=fill.beer,
            brewed_at=fill.filled_at,
            volume_hl=fill.volume_hl,
            before_record=fill.before_record,
        )
    elif batch.beer_id != fill.beer_id:
        raise Refusal(
            f"Batch {batch.number} is {batch.beer}. Choose that beer, or enter another batch.",
            field="batch",
            code="other_beer",
        )
    else:
        refuse_gone(batch, field="batch")
    earlier = [
        one.fill
        for one in BatchFill.objects.filter(
            batch=batch, fill__filled_at__lte=fill.filled_at, fill__crop__isnull=True
        )
        .select_related("fill__vessel")
        .order_by("pk")
    ]
    link = BatchFill.objects.create(batch=batch, fill=fill)
    hold_by_vessel(fill, batch, by=by)
    hold_by_crossing(fill, batch, by=by, through=through or ())
    if through is None:
        return link
    if fill.before_record:
        # Nobody recorded how it came there, nor whether it shares its source with another vessel.
        earlier = []
    kind = MovementKind.UNKNOWN if earlier else MovementKind.BREW
    if fill.before_record:
        kind = MovementKind.STOOD
    sources: Sequence[Fill | None] = earlier or [None]
    for source in sources:
        keep_movement(
            by=by,
            kind=kind,
            moved_at=fill.filled_at,
            source=source,
            target=fill,
            through=through,
            volume_hl=None if earlier else fill.volume_hl,
        )
    return link

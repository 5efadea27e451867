"""What the pages of batches, crops and lots show."""

import dataclasses
from collections.abc import Sequence

from django.db.models import Prefetch, Q, QuerySet

from brewhygiene.batches.brews.balance import Balance, balance_of
from brewhygiene.batches.corrections.movements.standing import CORRECTED_KINDS
from brewhygiene.batches.corrections.signed import Corrected, with_changes, with_corrections
from brewhygiene.batches.holds import holds_of
from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.corrections import MovementCorrection
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Movement, Touch


def movements_for_page() -> QuerySet[Movement]:
    """Movements with all that their lines name. 3 queries."""
    touches = Touch.objects.select_related("vessel").order_by("place")
    return Movement.objects.select_related(
        "from_fill__vessel",
        "from_fill__of_batch__batch",
        "from_crop",
        "to_fill__vessel",
        "to_fill__of_batch__batch",
        "to_crop",
        "to_lot",
        "dump__signature",
        "dump__decision__signature",
        "recorded_by",
    ).prefetch_related(Prefetch("touches", queryset=touches), with_corrections(MovementCorrection))


@dataclasses.dataclass(frozen=True)
class Line:
    """A movement in words: what went where, and through what."""

    movement: Movement

    @property
    def yeast_l(self) -> float | None:
        """The volume in L where it was yeast that moved."""
        volume, move = self.movement.volume_hl, self.movement
        of_yeast = move.from_crop_id is not None or move.to_crop_id is not None
        return volume * 100 if of_yeast and volume is not None else None

    @property
    def corrected(self) -> Corrected:
        """Its corrections, each with what it changed."""
        return with_changes(self.movement.corrections.all())

    @property
    def can_be_corrected(self) -> bool:
        return self.movement.kind in CORRECTED_KINDS

    @property
    def through(self) -> str:
        """The equipment on its way, without the vessels where it began and ended."""
        ends = {
            fill.vessel_id
            for fill in (self.movement.from_fill, self.movement.to_fill)
            if fill is not None
        }
        for crop in (self.movement.from_crop, self.movement.to_crop):
            if crop is not None and crop.vessel_id is not None:
                ends.add(crop.vessel_id)
        return ", ".join(
            touch.vessel.name
            for touch in self.movement.touches.all()
            if touch.vessel is not None and touch.vessel_id not in ends
        )


def lines_of(movements: QuerySet[Movement]) -> list[Line]:
    """Each movement as a line, in the order of time. 3 queries."""
    return [Line(movement) for movement in movements.order_by("moved_at", "pk")]


@dataclasses.dataclass(frozen=True)
class BatchPage:
    """All that is on record of a batch."""

    batch: Batch
    filled: Sequence[BatchFill]
    lines: Sequence[Line]
    crops: Sequence[YeastCrop]
    lots: Sequence[Lot]
    holds: Sequence[Hold]
    balance: Balance
    moved_away: Sequence[MovementCorrection]

    @property
    def open_hold(self) -> Hold | None:
        return next((hold for hold in self.holds if hold.ended_at is None), None)


def batch_page(batch: Batch) -> BatchPage:
    """A batch with its way, its yeast, its lots and its holds. 12 queries, and 1 for notes."""
    every = batch.filled.select_related(
        "fill__vessel", "fill__emptying", "fill__crop", "fill__turnaround__start"
    )
    filled = [link for link in every.order_by("fill__filled_at") if not hasattr(link.fill, "crop")]
    fills = [link.fill_id for link in filled]
    return BatchPage(
        batch=batch,
        filled=filled,
        lines=lines_of(movements_for_page().filter(Q(from_fill__in=fills) | Q(to_fill__in=fills))),
        crops=list(batch.crops.select_related("vessel")),
        lots=list(batch.lots.order_by("pk")),
        holds=list(holds_of(batch)),
        balance=balance_of(batch),
        moved_away=list(
            batch.moved_away.select_related("signature", "movement").order_by("corrected_at", "pk")
        ),
    )

"""Write what was planned: the movement, what it filled, and what follows it. Called in actions."""

from typing import Any

from django.db.models import Sum

from brewhygiene.batches.corrections.movements.planning import Plan
from brewhygiene.batches.corrections.movements.rewriting import (
    feeds,
    fill_anew,
    made_by,
    move_to_batch,
    move_to_vessel,
    rewrite,
    work_out_sources,
)
from brewhygiene.batches.corrections.movements.standing import SOURCELESS
from brewhygiene.batches.dumps.actions import condemned_by
from brewhygiene.batches.models.batches import Batch, BatchFill
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.recording import Actor


def write(movement: Movement, plan: Plan, *, by: Actor) -> None:
    wanted, fill = plan.wanted, movement.to_fill
    if fill is not None:
        _write_fill(movement, fill, plan, by=by)
    changed: dict[str, Any] = {
        "moved_at": wanted.moved_at,
        "loss_hl": wanted.loss_hl,
        "loss_reason": wanted.loss_reason,
    }
    if movement.kind != MovementKind.UNKNOWN:
        changed["volume_hl"] = wanted.volume_hl
    if plan.source is not None:
        changed["from_fill"] = plan.source.fill
    rewrite(movement, **changed)
    if (lot := movement.to_lot) is not None:
        lot.packaged_at = wanted.moved_at
        if plan.source is not None:
            lot.batch = plan.source.batch
        lot.save()
    if movement.kind == MovementKind.DUMP and plan.source is not None:
        movement.dump.decision = condemned_by(plan.source.batch)  # type: ignore[attr-defined]
        movement.dump.save()  # type: ignore[attr-defined]
    if plan.batch is not None:
        work_out_sources(plan.batch, by=by)
    if fill is not None and movement.kind in SOURCELESS:
        work_out_sources(BatchFill.objects.get(fill=fill).batch, by=by)


def _write_fill(movement: Movement, fill: Fill, plan: Plan, *, by: Actor) -> None:
    """Write what a vessel was filled with, its batch and the others that filled it then."""
    wanted, was_at = plan.wanted, fill.filled_at
    batch: Batch = fill.of_batch.batch  # type: ignore[attr-defined]
    made, was_volume = made_by(batch, fill), fill.volume_hl
    others = [move for move in feeds(fill) if move.pk != movement.pk]
    volume_hl = wanted.volume_hl or 0
    if movement.kind == MovementKind.TRANSFER:
        volume_hl += (
            fill.moved_in.filter(kind=MovementKind.TRANSFER)
            .exclude(pk=movement.pk)
            .aggregate(all=Sum("volume_hl"))["all"]
            or 0
        )
    fill.filled_at = wanted.moved_at
    fill_anew(fill, was_at=was_at, volume_hl=volume_hl)
    for other in others:
        if other.moved_at != wanted.moved_at:
            rewrite(other, moved_at=wanted.moved_at)
    blended = batch.blended and (batch.brewed_at, batch.volume_hl) == (was_at, was_volume)
    if made or blended:
        batch.volume_hl, batch.brewed_at = volume_hl, wanted.moved_at
        batch.save(update_fields=["volume_hl", "brewed_at"])
    if plan.turnaround is not None:
        move_to_vessel(fill, plan.turnaround)
        movement.to_fill = fill
    if plan.batch is not None:
        move_to_batch(plan.fills, plan.batch)
        work_out_sources(batch, by=by)

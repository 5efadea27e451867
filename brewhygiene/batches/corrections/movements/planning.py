"""What a correction changes of a movement, once nothing contradicts it. Called inside actions."""

import dataclasses
from datetime import datetime
from typing import Any

from brewhygiene.batches.brews.filled import batch_named
from brewhygiene.batches.corrections.movements.checks import (
    other_vessel,
    refuse_circle,
    refuse_impossible_time,
    refuse_unbalanced_source,
    refuse_unbalanced_target,
    source_at,
)
from brewhygiene.batches.corrections.movements.rewriting import feeds, made_by, same_beer
from brewhygiene.batches.corrections.movements.standing import Wanted
from brewhygiene.batches.dumps.actions import condemned_by
from brewhygiene.batches.holds import refuse_gone, refuse_held
from brewhygiene.batches.models.batches import Batch, BatchFill
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.batches.numbers import key_of
from brewhygiene.batches.transfers.actions import refuse_return
from brewhygiene.cellar.models import Fill
from brewhygiene.changeovers.crossing import refuse_crossing, refuse_mixing
from brewhygiene.ledger.recording import Actor
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when
from brewhygiene.turnarounds.models import Turnaround


@dataclasses.dataclass(frozen=True)
class Plan:
    """What a correction changes, once nothing contradicts it."""

    wanted: Wanted
    source: BatchFill | None  # where it is taken from, if that is another one
    turnaround: Turnaround | None  # of another vessel that was really filled
    batch: Batch | None  # another batch of the vessel
    fills: list[Fill]  # the vessels that this batch is moved in


def what_is_wanted(stands: Wanted, *, by: Actor, moved_at: datetime, **given: Any) -> Wanted:
    """What it should be: what was not given stays, and a time in the same minute is the same."""
    if moved_at.replace(second=0, microsecond=0) == stands.moved_at.replace(
        second=0, microsecond=0
    ):
        moved_at = stands.moved_at
    else:
        moved_at = check_when(moved_at, by=by, field="moved_at")
    kept = {name: value for name, value in given.items() if value is not None and value != ""}
    if kept.get("loss_hl") == 0:
        kept["loss_reason"] = ""
    if "loss_reason" in kept:
        kept["loss_reason"] = kept["loss_reason"].strip()[:200]
    if key_of(kept.get("batch", "")) == key_of(stands.batch):
        kept.pop("batch", None)
    # A vessel that there is no use for: of a brewing, or of what was packaged.
    for name in ("vessel", "to_vessel"):
        if getattr(stands, name) is None:
            kept.pop(name, None)
    if not stands.batch:
        kept.pop("batch", None)
    return dataclasses.replace(stands, moved_at=moved_at, **kept)


def checked(movement: Movement, stands: Wanted, wanted: Wanted) -> Plan:
    if wanted.volume_hl is not None and wanted.volume_hl <= 0:
        raise Refusal("Enter a volume above 0.", field="volume_hl")
    if wanted.loss_hl < 0:
        raise Refusal("Enter a loss of 0 or more.", field="loss_hl")
    if wanted.loss_hl and not wanted.loss_reason:
        raise Refusal("Enter where the loss went.", field="loss_reason")
    source = _checked_source(movement, stands, wanted)
    if wanted.moved_at != stands.moved_at:
        refuse_impossible_time(movement, wanted.moved_at)
    fill = movement.to_fill
    if fill is None:
        return Plan(wanted, source, None, None, [])
    batch = _other_batch(movement, stands, wanted, source)
    fills = [] if batch is None else same_beer(fill, fill.of_batch.batch)  # type: ignore[attr-defined]
    target = batch or fill.of_batch.batch  # type: ignore[attr-defined]
    if batch is not None:
        _refuse_batch(batch, fills, wanted.moved_at)
    if source is not None or batch is not None:
        _refuse_source_of(movement, source, target)
    assert wanted.to_vessel is not None
    turnaround = None
    if wanted.to_vessel != stands.to_vessel:
        turnaround = other_vessel(fill, wanted.to_vessel, wanted.moved_at)
        refuse_crossing(
            target.beer, until=wanted.moved_at, into=wanted.to_vessel, field="to_vessel"
        )
    added = (wanted.volume_hl or 0) - (stands.volume_hl or 0)
    refuse_unbalanced_target(fill, wanted.to_vessel, fill.volume_hl + added)
    return Plan(wanted, source, turnaround, batch, fills)


def _checked_source(movement: Movement, stands: Wanted, wanted: Wanted) -> BatchFill | None:
    """The other fill that it was taken from, or none; with volumes that balance."""
    if wanted.vessel is None:
        return None
    changed = wanted.vessel != stands.vessel
    if changed and movement.from_crop is not None:
        raise Refusal(
            "This was yeast of another vessel. Record the dump of the right one.", field="vessel"
        )
    if wanted.vessel == wanted.to_vessel:
        raise Refusal(
            f"{wanted.vessel.name} would be filled from itself. Choose another vessel.",
            field="vessel" if changed else "to_vessel",
            code="circle",
        )
    link = source_at(movement, wanted, changed=changed)
    out = (wanted.volume_hl or 0) + wanted.loss_hl
    was_out = (stands.volume_hl or 0) + stands.loss_hl
    # The volume of a lot is not in this form: what does not balance is its loss.
    field = "loss_hl" if movement.kind == MovementKind.PACKAGE else "volume_hl"
    if not changed:
        refuse_unbalanced_source(link.fill, was_out=was_out, out=out, field=field)
        return None
    refuse_unbalanced_source(link.fill, was_out=0, out=out, field="vessel")
    if movement.from_fill is not None:
        refuse_unbalanced_source(movement.from_fill, was_out=was_out, out=0, field="vessel")
    if movement.kind == MovementKind.DUMP:
        _refuse_dump_of_held(movement, link, wanted.moved_at)
    return link


def _refuse_dump_of_held(movement: Movement, link: BatchFill, moment: datetime) -> None:
    """Refuse the dump of another batch that was not condemned, or not yet, while it is held."""
    decision = condemned_by(link.batch)
    if decision is None:
        refuse_held(link.batch, field="vessel")
    elif moment < decision.decided_at.replace(second=0, microsecond=0):
        raise Refusal(
            f"Batch {link.batch.number} was still held at that time. Choose another vessel.",
            field="vessel",
            code="held",
        )


def _other_batch(
    movement: Movement, stands: Wanted, wanted: Wanted, source: BatchFill | None
) -> Batch | None:
    """The batch that the vessel was filled with, if it is another: as typed, or its source's."""
    fill = movement.to_fill
    assert fill is not None
    if key_of(wanted.batch) != key_of(stands.batch):
        known = batch_named(wanted.batch)
        if known is None:
            raise Refusal(
                f"No batch {wanted.batch} is recorded. Enter one that is.",
                field="batch",
                code="unknown",
            )
        return known
    if source is None or source.batch == fill.of_batch.batch:  # type: ignore[attr-defined]
        return None
    old = movement.from_fill
    kept_number = old is not None and old.of_batch.batch == fill.of_batch.batch  # type: ignore[attr-defined]
    if not kept_number:
        return None
    if len(feeds(fill)) > 1:
        raise Refusal(
            "It would be a blend of two batches under the number of one. Enter the batch of the "
            "blend.",
            field="batch",
            code="blend",
        )
    return source.batch


def _refuse_batch(batch: Batch, fills: list[Fill], moment: datetime) -> None:
    refuse_gone(batch, field="batch")
    if batch.brewed_at > moment and not made_by(batch, fills[0]) and not batch.before_record:
        raise Refusal(
            f"Batch {batch.number} was brewed after that time. Enter another batch.",
            field="batch",
            code="too_early",
        )
    refuse_circle(fills, batch)


def _refuse_source_of(movement: Movement, source: BatchFill | None, target: Batch) -> None:
    """Refuse beer that may not go into the other, as a transfer does, or a circle of them."""
    fill = movement.to_fill
    assert fill is not None
    others = [
        move.from_fill_id
        for move in feeds(fill)
        if move.kind == MovementKind.TRANSFER and move.pk != movement.pk
    ]
    links = list(BatchFill.objects.filter(fill__in=others).select_related("batch__beer", "fill"))
    if source is not None:
        links.append(source)
    elif movement.kind == MovementKind.TRANSFER and movement.from_fill is not None:
        links.append(movement.from_fill.of_batch)  # type: ignore[attr-defined]
    field = "vessel" if source is not None else "batch"
    for link in links:
        refuse_mixing(link.batch.beer, target.beer, what=f"Batch {link.batch.number}", field=field)
        if link.batch != target:
            refuse_return(target, [link.batch], field=field)

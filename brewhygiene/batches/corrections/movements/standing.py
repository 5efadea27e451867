"""A movement as it stands, and as somebody says that it should: what a correction compares."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from brewhygiene.batches.models.batches import YeastCrop
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.cellar.models import GONE_THROUGH, Fill, Vessel

# Filled, but from which vessel nobody recorded: what the beer comes from is worked out.
SOURCELESS = (MovementKind.BREW, MovementKind.UNKNOWN)
# By which a vessel is filled.
FILLING_KINDS = (*SOURCELESS, MovementKind.TRANSFER, MovementKind.VOID)
CORRECTED_KINDS = (
    *SOURCELESS,
    MovementKind.TRANSFER,
    MovementKind.PACKAGE,
    MovementKind.DUMP,
)


@dataclasses.dataclass(frozen=True)
class Wanted:
    """What a movement should have been recorded as; volumes in hL, ``None`` where it has none."""

    moved_at: datetime
    volume_hl: float | None
    loss_hl: float
    loss_reason: str
    vessel: Vessel | None
    to_vessel: Vessel | None
    batch: str


def with_ends() -> QuerySet[Movement]:
    """Movements with where they began and ended. 1 query."""
    return Movement.objects.select_related(
        "from_fill__vessel",
        "from_fill__of_batch__batch__beer",
        "from_crop__vessel",
        "from_crop__fill",
        "to_fill__vessel",
        "to_fill__of_batch__batch__beer",
        "to_lot__batch__beer",
        "dump__decision",
    )


def loaded(pk: int) -> Movement:
    """A movement with its ends, locked. 1 query."""
    return with_ends().select_for_update(of=("self",)).get(pk=pk)


def source_vessel(movement: Movement) -> Vessel | None:
    """The vessel that it left; of a brewing, or where nobody recorded it, none."""
    if movement.from_crop is not None:
        return movement.from_crop.vessel
    if movement.from_fill is None or movement.kind in SOURCELESS:
        return None
    return movement.from_fill.vessel


def volume_of(movement: Movement) -> float | None:
    """What arrived, hL: that of the vessel where only its filling has a volume."""
    if movement.kind in SOURCELESS and movement.to_fill is not None:
        return movement.to_fill.volume_hl
    return movement.volume_hl


def batch_number(movement: Movement) -> str:
    """The batch that the vessel was filled with; nothing where it went into no vessel."""
    return movement.to_fill.of_batch.batch.number if movement.to_fill is not None else ""  # type: ignore[attr-defined]


def as_it_stands(movement: Movement) -> Wanted:
    """What is on record of a movement, as a form begins with it."""
    return Wanted(
        moved_at=movement.moved_at,
        volume_hl=volume_of(movement),
        loss_hl=movement.loss_hl,
        loss_reason=movement.loss_reason,
        vessel=source_vessel(movement),
        to_vessel=movement.to_fill.vessel if movement.to_fill is not None else None,
        batch=batch_number(movement),
    )


def words_of(movement: Movement) -> dict[str, Any]:
    """The same for the correction's record, by names that its page has words for."""
    stands = as_it_stands(movement)
    source = movement.from_fill
    return {
        "from": stands.vessel.name if stands.vessel else "",
        "from_batch": source.of_batch.batch.number if source is not None else "",  # type: ignore[attr-defined]
        "to": stands.to_vessel.name if stands.to_vessel else "",
        "batch": stands.batch,
        "volume_hl": stands.volume_hl,
        "loss_hl": stands.loss_hl,
        "loss_reason": stands.loss_reason,
        "moved_at": stands.moved_at.isoformat(),
    }


def ends_of(movement: Movement) -> set[int]:
    """The vessels where it began and ended, by key."""
    ends = {fill.vessel_id for fill in (movement.from_fill, movement.to_fill) if fill is not None}
    if movement.from_crop is not None and movement.from_crop.vessel_id is not None:
        ends.add(movement.from_crop.vessel_id)
    return ends


def through_of(movement: Movement) -> Sequence[Vessel]:
    """The hoses and other gear on its way, in order. 1 query."""
    ends = ends_of(movement)
    touches = movement.touches.filter(vessel__kind__in=GONE_THROUGH).select_related("vessel")
    return [
        touch.vessel
        for touch in touches.order_by("place")
        if touch.vessel is not None and touch.vessel_id not in ends
    ]


def source_of(movement: Movement) -> Fill | YeastCrop | None:
    """What it was taken from."""
    return movement.from_fill or movement.from_crop

"""How a movement is kept: with everything that it touched, in order. Called inside actions."""

from collections.abc import Sequence
from datetime import datetime

from brewhygiene.batches.models.batches import YeastCrop
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Movement, MovementKind, Touch
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.ledger.recording import Actor

Thing = Vessel | Fill | YeastCrop | Lot


def way_of(
    *,
    source: Fill | YeastCrop | None,
    target: Fill | YeastCrop | Lot | None,
    through: Sequence[Vessel],
    kind: MovementKind,
) -> list[Thing]:
    """Everything that a movement touched, from where it began to where it ended.

    What is dumped ends nowhere: nothing can come of it.
    """
    way: list[Thing] = []
    if isinstance(source, Fill):
        way += [source, source.vessel]
    elif source is not None:
        way += [source, *([source.vessel] if source.vessel else [])]
    if kind == MovementKind.DRY_HOP and isinstance(target, Fill):
        # The beer comes into the gear that doses, and back: each gives the other what it carries.
        way += [target, target.vessel]
    way += through
    if isinstance(target, Fill):
        # What is pitched, and hops, go into the beer that is there already.
        there = kind in (MovementKind.PITCH, MovementKind.DRY_HOP)
        way += [target, target.vessel] if there else [target.vessel, target]
    elif isinstance(target, YeastCrop):
        way += [
            *([target.vessel] if target.vessel else []),
            *([target.fill] if target.fill else []),
        ]
        way.append(target)
    elif target is not None:
        way.append(target)
    return way


def keep_movement(
    *,
    by: Actor,
    kind: MovementKind,
    moved_at: datetime,
    source: Fill | YeastCrop | None,
    target: Fill | YeastCrop | Lot | None,
    through: Sequence[Vessel] = (),
    volume_hl: float | None = None,
    loss_hl: float = 0,
    loss_reason: str = "",
    added: str = "",
) -> Movement:
    """Write a movement and its touches."""
    movement = Movement.objects.create(
        kind=kind,
        moved_at=moved_at,
        from_fill=source if isinstance(source, Fill) else None,
        from_crop=source if isinstance(source, YeastCrop) else None,
        to_fill=target if isinstance(target, Fill) else None,
        to_crop=target if isinstance(target, YeastCrop) else None,
        to_lot=target if isinstance(target, Lot) else None,
        volume_hl=volume_hl,
        loss_hl=loss_hl,
        loss_reason=loss_reason,
        added=added,
        recorded_by=by.person,
    )
    way = way_of(source=source, target=target, through=through, kind=kind)
    Touch.objects.bulk_create(
        Touch(
            movement=movement,
            place=place,
            moved_at=moved_at,
            vessel=thing if isinstance(thing, Vessel) else None,
            fill=thing if isinstance(thing, Fill) else None,
            crop=thing if isinstance(thing, YeastCrop) else None,
            lot=thing if isinstance(thing, Lot) else None,
        )
        for place, thing in enumerate(way)
    )
    return movement

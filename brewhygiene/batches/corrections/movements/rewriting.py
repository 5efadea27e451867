"""How a movement is written anew, and what follows it. Called inside actions.

A row of a movement's way is never taken away: one that is too many stands for its last stop twice.
"""

from collections.abc import Iterable

from brewhygiene.batches.corrections.movements.standing import (
    SOURCELESS,
    source_of,
    through_of,
)
from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Movement, MovementKind, Touch
from brewhygiene.batches.moving import keep_movement, way_of
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.ledger.recording import Actor
from brewhygiene.turnarounds.actions import raise_revision
from brewhygiene.turnarounds.models import Turnaround

NO_SOURCE = (*SOURCELESS, MovementKind.VOID)


def write_way(movement: Movement, through: Iterable[Vessel]) -> None:
    """Write the stops of a movement anew, by what its ends are now."""
    way = way_of(
        source=source_of(movement),
        target=movement.to_fill or movement.to_crop or movement.to_lot,
        through=list(through),
        kind=MovementKind(movement.kind),
    )
    touches = list(movement.touches.order_by("place"))
    for place in range(max(len(way), len(touches))):
        thing = way[min(place, len(way) - 1)]
        touch = touches[place] if place < len(touches) else Touch(movement=movement, place=place)
        touch.moved_at = movement.moved_at
        touch.vessel = thing if isinstance(thing, Vessel) else None
        touch.fill = thing if isinstance(thing, Fill) else None
        touch.crop = thing if isinstance(thing, YeastCrop) else None
        touch.lot = thing if isinstance(thing, Lot) else None
        touch.save()


def rewrite(movement: Movement, **changed: object) -> None:
    """Change a movement, and its way with it."""
    through = through_of(movement)
    for name, value in changed.items():
        setattr(movement, name, value)
    movement.save()
    write_way(movement, through)


def move_to_vessel(fill: Fill, turnaround: Turnaround) -> None:
    """Say that another vessel was filled: its turnaround is closed, the first is open again."""
    through = {
        move.pk: through_of(move)
        for move in Movement.objects.filter(from_fill=fill) | Movement.objects.filter(to_fill=fill)
    }
    first = Turnaround.objects.filter(closing_fill=fill).first()
    if first is not None:
        first.closed_at, first.closing_fill = None, None
        first.save(update_fields=["closed_at", "closing_fill"])
        raise_revision(first)
    fill.vessel = turnaround.vessel
    fill.save(update_fields=["vessel"])
    turnaround.closed_at, turnaround.closing_fill = fill.filled_at, fill
    turnaround.save(update_fields=["closed_at", "closing_fill"])
    raise_revision(turnaround)
    for move in Movement.objects.filter(pk__in=through).select_related(
        "from_fill__vessel", "to_fill__vessel", "from_crop__vessel", "to_crop", "to_lot"
    ):
        write_way(move, through[move.pk])


def fill_anew(fill: Fill, *, was_at: object, volume_hl: float) -> None:
    """Write when a vessel was filled and with how much, and its turnaround's end with it."""
    fill.volume_hl = volume_hl
    fill.save(update_fields=["volume_hl", "filled_at"])
    if fill.filled_at == was_at:
        return
    turnaround = Turnaround.objects.filter(closing_fill=fill).first()
    if turnaround is not None:
        turnaround.closed_at = fill.filled_at
        turnaround.save(update_fields=["closed_at"])
        raise_revision(turnaround)


# --- a fill of another batch ---


def feeds(fill: Fill) -> list[Movement]:
    """What a vessel was filled by, without what was taken back. 1 query."""
    return list(fill.moved_in.filter(kind__in=(*SOURCELESS, MovementKind.TRANSFER)).order_by("pk"))


def same_beer(fill: Fill, batch: Batch) -> list[Fill]:
    """A fill with those that it went on to under the same batch, in no other mixture."""
    found = [fill]
    for one in found:
        onward = Fill.objects.filter(
            moved_in__from_fill=one,
            moved_in__kind__in=(MovementKind.TRANSFER, MovementKind.UNKNOWN),
            of_batch__batch=batch,
        )
        for next_one in onward.distinct().order_by("pk"):
            sources = {move.from_fill_id for move in feeds(next_one)}
            if next_one not in found and sources <= {known.pk for known in found}:
                found.append(next_one)
    return found


def made_by(batch: Batch, fill: Fill) -> bool:
    """Whether a batch came on record with this filling of a vessel."""
    return not batch.blended and (batch.brewed_at, batch.volume_hl) == (
        fill.filled_at,
        fill.volume_hl,
    )


def move_to_batch(fills: list[Fill], batch: Batch) -> None:
    """Say that vessels were filled with another batch; their lots and crops are of it too."""
    was = BatchFill.objects.select_related("batch").get(fill=fills[0]).batch
    emptied = made_by(was, fills[0])
    crops = list(
        YeastCrop.objects.filter(origins__from_fill__in=fills, origins__kind=MovementKind.CROP)
    )
    kept = [crop.fill_id for crop in crops if crop.fill_id]
    every = [*(fill.pk for fill in fills), *kept]
    BatchFill.objects.filter(fill__in=every).update(batch=batch)
    Fill.objects.filter(pk__in=every).update(batch=batch.number, beer=batch.beer)
    Lot.objects.filter(origins__from_fill__in=fills).update(batch=batch)
    for crop in crops:
        crop.cropped_from = batch
        crop.save(update_fields=["cropped_from"])
    if not emptied:
        return
    # Nothing was brewed under its number but what it is in still.
    left = BatchFill.objects.filter(batch=was, fill__crop__isnull=True).select_related("fill")
    first = left.order_by("fill__filled_at", "pk").first()
    was.volume_hl = first.fill.volume_hl if first is not None else 0
    was.brewed_at = first.fill.filled_at if first is not None else was.brewed_at
    was.save(update_fields=["volume_hl", "brewed_at"])


def work_out_sources(batch: Batch, *, by: Actor) -> None:
    """Where the fills of a batch may come from whose source nobody recorded.

    From each vessel that it was in before; the first was brewed into.
    """
    links = BatchFill.objects.filter(
        batch=batch, fill__crop__isnull=True, fill__before_record=False
    )
    earlier: list[Fill] = list(
        Fill.objects.filter(of_batch__batch=batch, before_record=True, crop__isnull=True)
        .select_related("vessel")
        .order_by("pk")
    )
    for link in links.select_related("fill__vessel").order_by("fill__filled_at", "pk"):
        fill = link.fill
        moves = list(
            fill.moved_in.filter(kind__in=NO_SOURCE)
            .select_related("from_fill__vessel", "to_fill__vessel", "from_crop")
            .order_by("pk")
        )
        if moves and not fill.moved_in.filter(kind=MovementKind.TRANSFER).exists():
            _source(fill, moves, list(earlier), by=by)
        earlier.append(fill)


def _source(fill: Fill, moves: list[Movement], earlier: list[Fill], *, by: Actor) -> None:
    """Write the movements into one fill: one from each of ``earlier``, or the brewing."""
    standing = {move.from_fill_id for move in moves if move.kind != MovementKind.VOID}
    if standing == {one.pk for one in earlier} or (not earlier and standing == {None}):
        return
    through = through_of(moves[0])
    for number, source in enumerate(earlier or [None]):
        values = {
            "kind": MovementKind.UNKNOWN if source else MovementKind.BREW,
            "volume_hl": None if source else fill.volume_hl,
        }
        if number < len(moves):
            rewrite(moves[number], from_fill=source, **values)
        else:
            keep_movement(
                by=by,
                moved_at=fill.filled_at,
                source=source,
                target=fill,
                through=through,
                **values,  # type: ignore[arg-type]
            )
    for extra in moves[max(len(earlier), 1) :]:
        rewrite(extra, from_fill=None, kind=MovementKind.VOID, volume_hl=None)

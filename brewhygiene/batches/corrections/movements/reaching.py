"""What holds reach before and after a correction: they follow it, and never end by it."""

import dataclasses
from collections.abc import Iterable

from brewhygiene.batches.holds import Held, hold_at_risk, open_holds, spread
from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.corrections import HoldNote, MovementCorrection
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.models.movements import Movement, MovementKind, Touch
from brewhygiene.batches.trace.ranks import BatchAtRisk, trace_of
from brewhygiene.batches.trace.walk import of_touches, walk_backward
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.recording import Actor
from brewhygiene.plates.models import Plate, PlateState


@dataclasses.dataclass(frozen=True)
class Reach:
    """By positive plate: the batches and the crops that its trace comes to, by key."""

    plates: dict[int, Plate]
    batches: dict[int, set[int]]
    crops: dict[int, set[int]]

    def has(self, hold: Hold) -> bool:
        if hold.batch_id is not None:
            return hold.batch_id in self.batches.get(hold.plate_id or 0, ())
        return hold.crop_id in self.crops.get(hold.plate_id or 0, ())


def plates_behind(movements: Iterable[int]) -> list[Plate]:
    """The positive plates whose trace may come through one of these movements. 5 queries."""
    seeds = of_touches(Touch.objects.filter(movement__in=movements).values_list("pk", flat=True))
    freed = Brewery.current().clean_frees_equipment
    back = walk_backward(seeds, freed_by_clean=freed)
    fills = Fill.objects.filter(pk__in={one.fill_pk for one in back if one.fill_pk})
    crops = {one.crop_pk for one in back if one.crop_pk}
    grew = Plate.objects.filter(state=PlateState.POSITIVE).select_related("point__vessel", "vessel")
    return list(
        (grew.filter(vessel__in=fills.values("vessel")) | grew.filter(crops__in=crops))
        .distinct()
        .order_by("pk")
    )


def reach_of(plates: Iterable[Plate]) -> Reach:
    """What each of these plates puts at risk as the record stands. A trace for each."""
    reach = Reach({}, {}, {})
    for plate in plates:
        trace = trace_of(plate)
        singly = [*trace.beer, *trace.yeast]
        reach.plates[plate.pk] = plate
        reach.batches[plate.pk] = {one.batch.pk for one in singly if isinstance(one, BatchAtRisk)}
        reach.crops[plate.pk] = {one.crop.pk for one in singly if not isinstance(one, BatchAtRisk)}
    return reach


def follow(
    before: Reach, movements: Iterable[int], correction: MovementCorrection, *, by: Actor
) -> list[str]:
    """Hold what plates reach since a correction, and say why the rest is held still.

    Returns what is held, in words.
    """
    plates = before.plates | {plate.pk: plate for plate in plates_behind(movements)}
    held: list[str] = []
    for plate in plates.values():
        held += hold_at_risk(plate, by=by)
    after = reach_of(plates.values())
    for hold in open_holds().filter(plate__in=plates):
        if (hold.batch_id or hold.crop_id) and before.has(hold) and not after.has(hold):
            HoldNote.objects.create(hold=hold, correction=correction)
    return held


def spread_on(source: Held, target: Held, *, by: Actor) -> None:
    """Hold what comes of something held, and what came of that since."""
    spread([source], target, by=by)
    seen: set[tuple[str, int]] = {(type(source).__name__, source.pk)}
    waiting: list[Held] = [target]
    while waiting:
        one = waiting.pop()
        if (type(one).__name__, one.pk) in seen:
            continue
        seen.add((type(one).__name__, one.pk))
        for child in _children(one):
            if child != one:
                spread([one], child, by=by)
                waiting.append(child)


def _children(subject: Held) -> list[Held]:
    """What a batch was blended into and the crops that it gave, or what a crop was pitched into."""
    if isinstance(subject, YeastCrop):
        pitched = Movement.objects.filter(from_crop=subject, kind=MovementKind.PITCH)
        into = Batch.objects.filter(filled__fill__in=pitched.values("to_fill"))
        return list(into.distinct())
    out = Movement.objects.filter(from_fill__of_batch__batch=subject, kind=MovementKind.TRANSFER)
    into = Batch.objects.filter(filled__fill__in=out.values("to_fill"))
    return [*into.exclude(pk=subject.pk).distinct(), *subject.crops.all()]


def note_left_behind(source: Batch, target: Batch, correction: MovementCorrection) -> None:
    """Say of the holds that a batch has of another by hand that it no longer comes of it."""
    about = f"batch {source.number}: "
    for hold in open_holds().filter(batch=target, plate__isnull=True, reason__startswith=about):
        HoldNote.objects.create(hold=hold, correction=correction)

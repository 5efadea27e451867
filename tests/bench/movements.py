"""Where the large invented brewery's beer went: ten years of brews, pitchings, transfers, lots.

The first three fifths of the vessels are fermenters, the next three tenths bright tanks, the rest
hoses. A crop of one fermenter in twelve is pitched into all twelve of the next brews, and after
eight generations new yeast is bought.
"""

import dataclasses
import itertools
from collections.abc import Iterator, Sequence
from typing import Any

from brewhygiene.batches.models.batches import Batch, BatchFill, CropSource, YeastCrop
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Movement, MovementKind, Touch
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.people.models import User

BATCH = 5_000
TWELVE, GENERATIONS = 12, 8


@dataclasses.dataclass
class Way:
    """One movement and its stops, as (column, key)."""

    movement: Movement
    stops: Sequence[tuple[str, int]]


def _kept(rows: Iterator[Any]) -> list[Any]:
    made: list[Any] = []
    while chunk := list(itertools.islice(rows, BATCH)):
        made += type(chunk[0]).objects.bulk_create(chunk)
    return made


def _keep_ways(ways: Iterator[Way]) -> None:
    while chunk := list(itertools.islice(ways, BATCH)):
        Movement.objects.bulk_create([way.movement for way in chunk])
        Touch.objects.bulk_create(
            [
                Touch(
                    movement=way.movement,
                    place=place,
                    moved_at=way.movement.moved_at,
                    **{f"{column}_id": key},
                )
                for way in chunk
                for place, (column, key) in enumerate(way.stops)
            ],
            batch_size=BATCH,
        )


def seed_movements(hand: User) -> int:
    """Batches, crops, lots and movements for every fill; how many movements there are."""
    vessels = list(Vessel.objects.order_by("order"))
    tanks, bright = len(vessels) * 6 // 10, len(vessels) * 3 // 10
    fermenters, brights = vessels[:tanks], vessels[tanks : tanks + bright]
    hoses = vessels[tanks + bright :]
    fills = {
        vessel.pk: list(Fill.objects.filter(vessel=vessel).order_by("filled_at"))
        for vessel in vessels
    }
    batches: dict[tuple[int, int], Batch] = {}
    for place, vessel in enumerate(fermenters):
        made = _kept(
            Batch(
                number=f"{vessel.name}-{n}",
                number_key=f"{vessel.name}-{n}".casefold(),
                beer_id=fill.beer_id,
                brewed_at=fill.filled_at,
                volume_hl=25,
                recorded_by=hand,
            )
            for n, fill in enumerate(fills[vessel.pk])
        )
        batches |= {(place, n): batch for n, batch in enumerate(made)}
        _kept(
            BatchFill(batch=batch, fill=fill)
            for batch, fill in zip(made, fills[vessel.pk], strict=True)
        )
    for place, vessel in enumerate(brights):
        _kept(
            BatchFill(batch=batches[place, n], fill=fill)
            for n, fill in enumerate(fills[vessel.pk][1:])
            if (place, n) in batches
        )
    crops = _crops(batches, hand)
    _keep_ways(_brews(fermenters, fills, crops, hand))
    _keep_ways(_racked(fermenters, brights, hoses, fills, batches, hand))
    return Movement.objects.count()


def _crops(batches: dict[tuple[int, int], Batch], hand: User) -> dict[tuple[int, int], YeastCrop]:
    """By the first fermenter of each twelve, and the brew that it is pitched into."""
    keys = [key for key in batches if key[0] % TWELVE == 0]

    def crop(key: tuple[int, int]) -> YeastCrop:
        place, n = key
        bought = n % GENERATIONS == 0
        return YeastCrop(
            number=f"Y{place}-{n}",
            number_key=f"y{place}-{n}",
            source=CropSource.BOUGHT if bought else CropSource.CROPPED,
            supplier="Invented" if bought else "",
            cropped_from=None if bought else batches[place, n - 1],
            generation=n % GENERATIONS,
            volume_hl=10,
            cropped_at=batches[key].brewed_at,
            recorded_by=hand,
        )

    return dict(zip(keys, _kept(crop(key) for key in keys), strict=True))


def _brews(
    fermenters: Sequence[Vessel],
    fills: dict[int, list[Fill]],
    crops: dict[tuple[int, int], YeastCrop],
    hand: User,
) -> Iterator[Way]:
    for place, vessel in enumerate(fermenters):
        for n, fill in enumerate(fills[vessel.pk]):
            at = fill.filled_at
            brew = Movement(
                kind=MovementKind.BREW, moved_at=at, to_fill=fill, volume_hl=25, recorded_by=hand
            )
            yield Way(brew, [("vessel", vessel.pk), ("fill", fill.pk)])
            crop = crops.get((place - place % TWELVE, n))
            if crop is None:
                continue
            if place % TWELVE == 0 and n % GENERATIONS:
                before = fills[vessel.pk][n - 1]
                taken = Movement(
                    kind=MovementKind.CROP,
                    moved_at=at,
                    from_fill=before,
                    to_crop=crop,
                    volume_hl=10,
                    recorded_by=hand,
                )
                yield Way(taken, [("fill", before.pk), ("crop", crop.pk)])
            pitch = Movement(
                kind=MovementKind.PITCH,
                moved_at=at,
                from_crop=crop,
                to_fill=fill,
                volume_hl=0.2,
                recorded_by=hand,
            )
            yield Way(pitch, [("crop", crop.pk), ("fill", fill.pk), ("vessel", vessel.pk)])


def _racked(
    fermenters: Sequence[Vessel],
    brights: Sequence[Vessel],
    hoses: Sequence[Vessel],
    fills: dict[int, list[Fill]],
    batches: dict[tuple[int, int], Batch],
    hand: User,
) -> Iterator[Way]:
    for place, vessel in enumerate(brights):
        source, hose = fermenters[place], hoses[place % len(hoses)]
        for n, fill in enumerate(fills[vessel.pk][1:]):
            if (place, n) not in batches:
                continue
            before, at = fills[source.pk][n], fill.filled_at
            moved = Movement(
                kind=MovementKind.TRANSFER,
                moved_at=at,
                from_fill=before,
                to_fill=fill,
                volume_hl=24,
                recorded_by=hand,
            )
            stops = [("fill", before.pk), ("vessel", source.pk), ("vessel", hose.pk)]
            yield Way(moved, [*stops, ("vessel", vessel.pk), ("fill", fill.pk)])
            lot = Lot.objects.create(
                number=f"L{place}-{n}",
                number_key=f"l{place}-{n}",
                batch=batches[place, n],
                container="keg",
                unit_l=30,
                units=70,
                packaged_at=at,
                recorded_by=hand,
            )
            packed = Movement(
                kind=MovementKind.PACKAGE,
                moved_at=at,
                from_fill=fill,
                to_lot=lot,
                volume_hl=21,
                recorded_by=hand,
            )
            yield Way(packed, [("fill", fill.pk), ("vessel", vessel.pk), ("lot", lot.pk)])

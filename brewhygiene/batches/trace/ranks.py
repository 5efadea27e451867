"""What a plate puts at risk, by rank: the beer, its yeast, equipment not cleaned since, cleaned."""

import dataclasses
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime

from django.db.models import Exists, F, OuterRef, Subquery

from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.holds import Rank
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Touch
from brewhygiene.batches.trace.walk import (
    MOST_TOUCHES,
    Reached,
    Seeds,
    of_plate,
    of_touches,
    walk_backward,
    walk_forward,
)
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Beer, Fill, Vessel
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.release.models import Decision, Outcome
from brewhygiene.turnarounds.models import Clean, CleanPurpose, Turnaround

Thing = tuple[str, int]  # "vessel", "fill", "crop" or "lot", and its key


@dataclasses.dataclass(frozen=True)
class BatchAtRisk:
    """A batch, how near it is, the vessels that it was in meanwhile, and its lots."""

    batch: Batch
    rank: int
    since: datetime
    fills: Sequence[Fill]
    lots: Sequence[Lot] = ()


@dataclasses.dataclass(frozen=True)
class CropAtRisk:
    crop: YeastCrop
    rank: int
    since: datetime


@dataclasses.dataclass(frozen=True)
class Equipment:
    """A vessel, hose, heat exchanger or filler, when it was touched last, and cleaned since."""

    vessel: Vessel
    touched_at: datetime
    cleaned_at: datetime | None
    before: bool = False  # the beer came through it, so that it may be where it comes from

    @property
    def rank(self) -> Rank:
        return Rank.NOT_CLEANED if self.cleaned_at is None else Rank.CLEANED


@dataclasses.dataclass(frozen=True)
class Trace:
    """All that a positive plate puts at risk."""

    plate: Plate
    since: datetime | None  # the negative plate before it
    batches: Sequence[BatchAtRisk]
    crops: Sequence[CropAtRisk]
    unnamed: Sequence[Fill]  # fills of before, without a batch on record
    equipment: Sequence[Equipment]
    freed_by_clean: bool
    cut_short: bool
    seeds: Seeds
    reached: Sequence[Reached]

    def of_rank(self, *ranks: int) -> list[BatchAtRisk | CropAtRisk]:
        """Batches and crops of these ranks, in the order of time."""
        found: list[BatchAtRisk | CropAtRisk] = [b for b in self.batches if b.rank in ranks]
        found += [crop for crop in self.crops if crop.rank in ranks]
        return sorted(found, key=lambda one: one.since)

    @property
    def beer(self) -> list[BatchAtRisk | CropAtRisk]:
        return self.of_rank(Rank.BEER)

    @property
    def yeast(self) -> list[BatchAtRisk | CropAtRisk]:
        return self.of_rank(Rank.YEAST)

    @property
    def passed_through(self) -> list[BatchAtRisk | CropAtRisk]:
        """What only went through equipment that the beer had touched."""
        return self.of_rank(Rank.NOT_CLEANED)

    @property
    def not_cleaned(self) -> list[Equipment]:
        return [one for one in self.equipment if one.rank == Rank.NOT_CLEANED]

    @property
    def cleaned(self) -> list[Equipment]:
        return [one for one in self.equipment if one.rank == Rank.CLEANED]

    @property
    def rest(self) -> list[str]:
        """What is decided together, in words, as a signed decision keeps it."""
        through = (
            f"batch {one.batch.number}"
            if isinstance(one, BatchAtRisk)
            else f"crop {one.crop.number}"
            for one in self.passed_through
        )
        return [
            *(f"{one.vessel.name}, not cleaned since" for one in self.not_cleaned),
            *(f"{one.vessel.name}, cleaned since" for one in self.cleaned),
            *(f"{one}, through equipment" for one in through),
            *(f"{fill}, no batch recorded" for fill in self.unnamed),
        ]


def bounds_of(plate: Plate) -> tuple[datetime | None, datetime | None]:
    """From the negative plate before this to the next after it, or to its closing. 2 queries."""
    negative = Plate.objects.filter(vessel_id=plate.vessel_id, state=PlateState.NEGATIVE)
    before = negative.filter(taken_at__lt=plate.taken_at).order_by("-taken_at")
    after = negative.filter(taken_at__gt=plate.taken_at).order_by("taken_at")
    ends = (after.values_list("taken_at", flat=True).first(), plate.resolved_at)
    return (
        before.values_list("taken_at", flat=True).first(),
        min((end for end in ends if end is not None), default=None),
    )


def trace_of(plate: Plate) -> Trace:
    """Everything at risk after a positive plate. 13 queries at most, whatever there is."""
    since, until = bounds_of(plate)
    return traced(plate, of_plate(plate, since=since, until=until), since=since)


def traced(plate: Plate, seeds: Seeds, *, since: datetime | None) -> Trace:
    """The ranks of what a walk from ``seeds`` comes to. 11 queries at most."""
    freed_by_clean = Brewery.current().clean_frees_equipment
    walked = walk_forward(seeds, freed_by_clean=freed_by_clean)
    reached = walked[:MOST_TOUCHES]
    first, crops, lots = (_first(reached, f"{kind}_pk") for kind in ("fill", "crop", "lot"))
    links = BatchFill.objects.filter(fill__in=first)
    # What a fill is of, and whether it is yeast, which stands in a rank of its own.
    of_batch = {
        fill: (batch, crop is not None)
        for fill, batch, crop in links.values_list("fill", "batch", "fill__crop")
    }
    found_lots = list(Lot.objects.filter(pk__in=lots).order_by("pk"))
    touched = _touched(plate, reached)
    # A batch, a beer or a vessel stands in many rows: each is read once.
    fills = {
        pk: fill
        for pk, fill in Fill.objects.in_bulk(first).items()
        if not of_batch.get(pk, (None, False))[1]
    }
    batches = Batch.objects.in_bulk(
        dict.fromkeys([*(pk for pk, _ in of_batch.values()), *(lot.batch_id for lot in found_lots)])
    )
    vessels = Vessel.objects.in_bulk({*touched.last, *(fill.vessel_id for fill in fills.values())})
    beers = Beer.objects.in_bulk({one.beer_id for one in (*batches.values(), *fills.values())})
    for batch in batches.values():
        batch.beer = beers[batch.beer_id]
    for fill in fills.values():
        fill.vessel, fill.beer = vessels[fill.vessel_id], beers[fill.beer_id]
    for lot in found_lots:
        lot.batch = batches[lot.batch_id]
    found_crops = YeastCrop.objects.filter(pk__in=crops).select_related("vessel", "cropped_from")
    return Trace(
        plate=plate,
        since=since,
        batches=_batches(
            batches,
            [(first[fill], pk, fills.get(fill)) for fill, (pk, _) in of_batch.items()],
            [(lots[lot.pk], lot) for lot in found_lots],
        ),
        crops=[
            CropAtRisk(crop, crops[crop.pk].rank, crops[crop.pk].moved_at) for crop in found_crops
        ],
        unnamed=sorted(
            (fill for pk, fill in fills.items() if pk not in of_batch),
            key=lambda fill: fill.filled_at,
        ),
        equipment=_equipment(touched, vessels),
        freed_by_clean=freed_by_clean,
        cut_short=len(walked) > MOST_TOUCHES,
        seeds=seeds,
        reached=reached,
    )


def _first(reached: Iterable[Reached], column: str) -> dict[int, Reached]:
    """By the key of each thing in a column: its nearest touch, the earliest of those."""
    found: dict[int, Reached] = {}
    for one in reached:
        pk = getattr(one, column)
        if pk is not None and (pk not in found or one.rank < found[pk].rank):
            found[pk] = one
    return found


def _batches(
    batches: dict[int, Batch],
    filled: Iterable[tuple[Reached, int, Fill | None]],
    packaged: Iterable[tuple[Reached, Lot]],
) -> list[BatchAtRisk]:
    touched: dict[int, list[Reached]] = {pk: [] for pk in batches}
    was_in: dict[int, list[Fill]] = {pk: [] for pk in batches}
    lots: dict[int, list[Lot]] = {pk: [] for pk in batches}
    for one, pk, fill in filled:
        touched[pk].append(one)
        if fill is not None:
            was_in[pk].append(fill)
    for one, lot in packaged:
        touched[lot.batch_id].append(one)
        lots[lot.batch_id].append(lot)
    return [
        BatchAtRisk(
            batch=batch,
            rank=min(one.rank for one in touched[pk]),
            since=min(one.moved_at for one in touched[pk]),
            fills=sorted(was_in[pk], key=lambda fill: fill.filled_at),
            lots=lots[pk],
        )
        for pk, batch in batches.items()
    ]


@dataclasses.dataclass(frozen=True)
class Touched:
    """By vessel: when it was touched last, and cleaned since; which only before the plate."""

    last: dict[int, datetime]
    cleaned: dict[int, datetime]
    before: Collection[int]


def _touched(plate: Plate, reached: Sequence[Reached]) -> Touched:
    """What the beer and its yeast touched, on its way there too, but for the vessel. 2 queries."""
    last = {one.vessel_pk: one.moved_at for one in reached if one.vessel_pk is not None}
    near = {one.movement_pk for one in reached if one.rank <= Rank.YEAST}
    before = dict(
        Touch.objects.filter(movement__in=near, vessel__isnull=False)
        .exclude(vessel__in=last)
        .order_by("moved_at")
        .values_list("vessel_id", "moved_at")
    )
    last |= before
    last.pop(plate.vessel_id, None)
    return Touched(last, _cleaned_since(last), before)


def _equipment(touched: Touched, vessels: Mapping[int, Vessel]) -> list[Equipment]:
    return sorted(
        (
            Equipment(vessels[pk], at, touched.cleaned.get(pk), pk in touched.before)
            for pk, at in touched.last.items()
        ),
        key=lambda one: (one.rank, one.touched_at, one.vessel.name),
    )


def _cleaned_since(last: dict[int, datetime]) -> dict[int, datetime]:
    """By vessel: its last released clean, where that came after the last touch. 1 query."""
    if not last:
        return {}
    released = Decision.objects.filter(turnaround=OuterRef("pk"), outcome=Outcome.RELEASE)
    # By the index on vessel and time, which stops at the first that was released.
    latest = Turnaround.objects.filter(Exists(released), vessel=OuterRef("pk"))
    newest = Vessel.objects.filter(pk__in=last).values(
        newest=Subquery(latest.order_by("-opened_at").values("pk")[:1])
    )
    cleaned = (
        Clean.objects.filter(
            turnaround__in=newest,
            purpose=CleanPurpose.CLEAN,
            finished_at__isnull=False,
            turnaround__decisions__outcome=Outcome.RELEASE,
            turnaround__decisions__clean__gte=F("pk"),
        )
        .order_by("finished_at")
        .values_list("turnaround__vessel_id", "started_at", "finished_at")
    )
    return {
        vessel_pk: finished_at
        for vessel_pk, started_at, finished_at in cleaned
        if finished_at is not None and started_at >= last[vessel_pk]
    }


@dataclasses.dataclass(frozen=True)
class Sources:
    """Where the trouble may have come from, and what else that touched."""

    equipment: Sequence[Vessel]
    batches: Sequence[Batch]
    crops: Sequence[YeastCrop]
    shared_batches: Sequence[Batch]


def sources_of(trace: Trace) -> Sources:
    """What flowed into the beer at risk, and which other batches that touched. 7 queries."""
    plate = trace.plate
    own = _things(trace.reached)
    back = [
        one
        for one in walk_backward(trace.seeds, freed_by_clean=trace.freed_by_clean)[:MOST_TOUCHES]
        if one.moved_at <= (plate.read_at or plate.taken_at)
    ]
    suspects = of_touches((one.touch_pk for one in back), rank=Rank.NOT_CLEANED)
    also = walk_forward(suspects, freed_by_clean=trace.freed_by_clean)[:MOST_TOUCHES]
    behind = _things(back) - _things(one for one in trace.reached if one.rank <= Rank.YEAST)
    shared = _things(also) - own
    of_thing = _batches_of(behind | shared)
    upstream = {of_thing[thing] for thing in behind if thing in of_thing}
    elsewhere = {of_thing[thing] for thing in shared if thing in of_thing} - upstream
    batches = list(Batch.objects.filter(pk__in=upstream | elsewhere))
    return Sources(
        equipment=list(Vessel.objects.filter(pk__in=_of("vessel", behind))),
        batches=[one for one in batches if one.pk in upstream],
        crops=list(YeastCrop.objects.filter(pk__in=_of("crop", behind))),
        shared_batches=[one for one in batches if one.pk in elsewhere],
    )


def _batches_of(things: Collection[Thing]) -> dict[Thing, int]:
    """The batch of each fill and lot that has one. 2 queries."""
    links = BatchFill.objects.filter(fill__in=_of("fill", things)).values_list("fill", "batch")
    lots = Lot.objects.filter(pk__in=_of("lot", things)).values_list("pk", "batch")
    return {("fill", fill): batch for fill, batch in links} | {
        ("lot", lot): batch for lot, batch in lots
    }


def _things(reached: Iterable[Reached]) -> set[Thing]:
    found: set[Thing] = set()
    for one in reached:
        if one.vessel_pk is not None:
            found.add(("vessel", one.vessel_pk))
        elif one.fill_pk is not None:
            found.add(("fill", one.fill_pk))
        elif one.crop_pk is not None:
            found.add(("crop", one.crop_pk))
        elif one.lot_pk is not None:
            found.add(("lot", one.lot_pk))
    return found


def _of(kind: str, things: Iterable[Thing]) -> list[int]:
    return [pk for name, pk in things if name == kind]

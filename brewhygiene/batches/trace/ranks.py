"""What a plate puts at risk, by rank: the beer, its yeast, equipment not cleaned since, cleaned."""

import dataclasses
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple, TypeVar

from django.db.models import Exists, F, Model, OuterRef, Subquery

from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.holds import Rank
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import Touch
from brewhygiene.batches.trace.walk import (
    MOST_TOUCHES,
    Reached,
    Seeds,
    Thing,
    of_plate,
    of_touches,
    things_forward,
    things_of,
    walk_backward,
    walk_forward,
)
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Beer, Fill, Vessel
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.release.models import Decision, Outcome
from brewhygiene.turnarounds.models import Clean, CleanPurpose, Turnaround

M = TypeVar("M", bound=Model)


class Stay(NamedTuple):
    """A vessel that a batch was in, and since when."""

    vessel: Vessel
    filled_at: datetime


class Named(NamedTuple):
    """A lot or a batch, as far as a page names it."""

    pk: int
    number: str


@dataclasses.dataclass(frozen=True)
class BatchAtRisk:
    """A batch, how near it is, the vessels that it was in meanwhile, and its lots."""

    batch: Batch
    rank: int
    since: datetime
    fills: Sequence[Stay]
    lots: Sequence[Named] = ()


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
    negative = Plate.objects.filter(
        vessel_id=plate.vessel_id, state=PlateState.NEGATIVE, neutralised=True
    )
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
    first, crops, lots = _first(reached)
    links: list[tuple[int, int, int, datetime, int | None]] = list(
        BatchFill.objects.filter(fill__in=first).values_list(
            "fill", "batch", "fill__vessel", "fill__filled_at", "fill__crop"
        )
    )
    found_lots = list(
        Lot.objects.filter(pk__in=lots).order_by("pk").values_list("pk", "number", "batch")
    )
    named = {fill for fill, *_ in links}
    unnamed = list(Fill.objects.filter(pk__in=set(first) - named).order_by("filled_at"))
    touched = _touched(plate, reached)
    # A beer or a vessel stands in many rows: each is read once.
    in_vessels = {vessel for _, _, vessel, _, _ in links} | {fill.vessel_id for fill in unnamed}
    vessels = _by_key(Vessel.objects.filter(pk__in={*touched.last, *in_vessels}))
    of_batches = {batch for _, batch, _, _, _ in links} | {batch for _, _, batch in found_lots}
    batches = _by_key(Batch.objects.filter(pk__in=of_batches).order_by("pk"))
    of_beers = {one.beer_id for one in batches.values()} | {fill.beer_id for fill in unnamed}
    beers = _by_key(Beer.objects.filter(pk__in=of_beers))
    for batch in batches.values():
        batch.beer = beers[batch.beer_id]
    for fill in unnamed:
        fill.vessel, fill.beer = vessels[fill.vessel_id], beers[fill.beer_id]
    # Its yeast stands in a rank of its own.
    stays = [
        (first[fill], batch, Stay(vessels[vessel], filled_at) if crop is None else None)
        for fill, batch, vessel, filled_at, crop in links
    ]
    found_crops = YeastCrop.objects.filter(pk__in=crops).select_related("vessel", "cropped_from")
    return Trace(
        plate=plate,
        since=since,
        batches=_batches(
            batches,
            stays,
            [(lots[pk], batch, Named(pk, number)) for pk, number, batch in found_lots],
        ),
        crops=[
            CropAtRisk(crop, crops[crop.pk].rank, crops[crop.pk].moved_at) for crop in found_crops
        ],
        unnamed=unnamed,
        equipment=_equipment(touched, vessels),
        freed_by_clean=freed_by_clean,
        cut_short=len(walked) > MOST_TOUCHES,
        seeds=seeds,
        reached=reached,
    )


def _first(reached: Iterable[Reached]) -> tuple[dict[int, Reached], ...]:
    """By the key of each fill, crop and lot: its nearest touch, the earliest of those."""
    fills: dict[int, Reached] = {}
    crops: dict[int, Reached] = {}
    lots: dict[int, Reached] = {}
    for one in reached:
        for pk, found in ((one.fill_pk, fills), (one.crop_pk, crops), (one.lot_pk, lots)):
            if pk is not None and (pk not in found or one.rank < found[pk].rank):
                found[pk] = one
    return fills, crops, lots


def _by_key(found: Iterable[M]) -> dict[int, M]:
    return {one.pk: one for one in found}


def _batches(
    batches: dict[int, Batch],
    stays: Iterable[tuple[Reached, int, Stay | None]],
    packaged: Iterable[tuple[Reached, int, Named]],
) -> list[BatchAtRisk]:
    touched: dict[int, list[Reached]] = {pk: [] for pk in batches}
    was_in: dict[int, list[Stay]] = {pk: [] for pk in batches}
    lots: dict[int, list[Named]] = {pk: [] for pk in batches}
    for one, pk, stay in stays:
        touched[pk].append(one)
        if stay is not None:
            was_in[pk].append(stay)
    for one, pk, lot in packaged:
        touched[pk].append(one)
        lots[pk].append(lot)
    return [
        BatchAtRisk(
            batch=batch,
            rank=min(one.rank for one in touched[pk]),
            since=min(one.moved_at for one in touched[pk]),
            fills=sorted(was_in[pk], key=lambda stay: stay.filled_at),
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
    batches: Sequence[Named]
    crops: Sequence[YeastCrop]
    shared_batches: Sequence[Named]


def sources_of(trace: Trace) -> Sources:
    """What flowed into the beer at risk, and which other batches that touched. 7 queries."""
    plate = trace.plate
    back = [
        one
        for one in walk_backward(trace.seeds, freed_by_clean=trace.freed_by_clean)[:MOST_TOUCHES]
        if one.moved_at <= (plate.read_at or plate.taken_at)
    ]
    suspects = of_touches((one.touch_pk for one in back), rank=Rank.NOT_CLEANED)
    behind = things_of(back)
    behind -= things_of(one for one in trace.reached if one.rank <= Rank.YEAST)
    shared = things_forward(suspects, freed_by_clean=trace.freed_by_clean)
    shared -= things_of(trace.reached)
    of_thing = _batches_of(behind | shared)
    upstream = {of_thing[thing] for thing in behind if thing in of_thing}
    elsewhere = {of_thing[thing] for thing in shared if thing in of_thing} - upstream
    found = Batch.objects.filter(pk__in=upstream | elsewhere).values_list("pk", "number")
    batches = [Named(pk, number) for pk, number in found]
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


def _of(kind: str, things: Iterable[Thing]) -> list[int]:
    return [pk for name, pk in things if name == kind]

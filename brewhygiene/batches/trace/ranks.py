"""What a plate puts at risk, by rank: the beer, its yeast, equipment not cleaned since, cleaned."""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db.models import Exists, F, OuterRef, Q, Subquery

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
    reached = walk_forward(seeds, freed_by_clean=freed_by_clean)
    cut_short = len(reached) > MOST_TOUCHES
    reached = reached[:MOST_TOUCHES]
    fills = _first(reached, "fill_pk")
    of_batch = {
        one.fill_id: one
        for one in BatchFill.objects.filter(fill__in=fills).select_related("batch", "fill")
    }
    # A beer or a vessel stands in many rows: each is read once.
    vessels = Vessel.objects.in_bulk({one.fill.vessel_id for one in of_batch.values()})
    beers = Beer.objects.in_bulk({one.batch.beer_id for one in of_batch.values()})
    for one in of_batch.values():
        one.fill.vessel = vessels[one.fill.vessel_id]
        one.batch.beer = beers[one.batch.beer_id]
    of_yeast = {
        crop.fill_id
        for crop in YeastCrop.objects.filter(fill__in=fills).only("fill")
        if crop.fill_id
    }
    without = [pk for pk in fills if pk not in of_batch]
    unnamed = Fill.objects.filter(pk__in=without).select_related("vessel", "beer")
    crops = _first(reached, "crop_pk")
    found_crops = YeastCrop.objects.filter(pk__in=crops).select_related("vessel", "cropped_from")
    lots = _first(reached, "lot_pk")
    found_lots = Lot.objects.filter(pk__in=lots).select_related("batch__beer")
    return Trace(
        plate=plate,
        since=since,
        batches=_batches(fills, of_batch, of_yeast, lots, list(found_lots)),
        crops=[
            CropAtRisk(crop, crops[crop.pk].rank, crops[crop.pk].moved_at) for crop in found_crops
        ],
        unnamed=list(unnamed.order_by("filled_at")),
        equipment=_equipment(plate, reached),
        freed_by_clean=freed_by_clean,
        cut_short=cut_short,
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
    fills: dict[int, Reached],
    of_batch: dict[int, BatchFill],
    of_yeast: set[int],
    lots: dict[int, Reached],
    found_lots: Sequence[Lot],
) -> list[BatchAtRisk]:
    names: dict[int, Batch] = {one.batch_id: one.batch for one in of_batch.values()}
    names |= {lot.batch_id: lot.batch for lot in found_lots}
    touched: dict[int, list[Reached]] = {pk: [] for pk in names}
    was_in: dict[int, list[Fill]] = {pk: [] for pk in names}
    for fill_pk, one in fills.items():
        if (link := of_batch.get(fill_pk)) is not None:
            touched[link.batch_id].append(one)
            if fill_pk not in of_yeast:  # its yeast stands in a rank of its own
                was_in[link.batch_id].append(link.fill)
    packaged: dict[int, list[Lot]] = {pk: [] for pk in names}
    for lot in sorted(found_lots, key=lambda lot: lot.pk):
        touched[lot.batch_id].append(lots[lot.pk])
        packaged[lot.batch_id].append(lot)
    return [
        BatchAtRisk(
            batch=batch,
            rank=min(one.rank for one in touched[pk]),
            since=min(one.moved_at for one in touched[pk]),
            fills=sorted(was_in[pk], key=lambda fill: fill.filled_at),
            lots=packaged[pk],
        )
        for pk, batch in names.items()
    ]


def _equipment(plate: Plate, reached: Sequence[Reached]) -> list[Equipment]:
    """What the beer and its yeast touched, on its way there too, but for the vessel. 3 queries."""
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
    cleaned = _cleaned_since(last)
    return sorted(
        (
            Equipment(vessel, last[vessel.pk], cleaned.get(vessel.pk), vessel.pk in before)
            for vessel in Vessel.objects.filter(pk__in=last)
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


def sources_of(plate: Plate) -> Sources:
    """What flowed into the beer at risk, and which other batches that touched. 10 queries."""
    since, until = bounds_of(plate)
    freed = Brewery.current().clean_frees_equipment
    seeds = of_plate(plate, since=since, until=until)
    forward = walk_forward(seeds, freed_by_clean=freed)[:MOST_TOUCHES]
    own = _things(forward)
    back = [
        one
        for one in walk_backward(seeds, freed_by_clean=freed)[:MOST_TOUCHES]
        if one.moved_at <= (plate.read_at or plate.taken_at)
    ]
    suspects = of_touches((one.touch_pk for one in back), rank=Rank.NOT_CLEANED)
    shared = _things(walk_forward(suspects, freed_by_clean=freed)[:MOST_TOUCHES]) - own
    behind = _things(back) - _things(one for one in forward if one.rank <= Rank.YEAST)

    def batches(things: set[tuple[str, int]]) -> list[Batch]:
        fills, lots = _of("fill", things), _of("lot", things)
        return list(
            Batch.objects.filter(Q(filled__fill__in=fills) | Q(lots__in=lots))
            .select_related("beer")
            .distinct()
        )

    upstream = batches(behind)
    return Sources(
        equipment=list(Vessel.objects.filter(pk__in=_of("vessel", behind))),
        batches=upstream,
        crops=list(YeastCrop.objects.filter(pk__in=_of("crop", behind))),
        shared_batches=[one for one in batches(shared) if one not in upstream],
    )


def _things(reached: Iterable[Reached]) -> set[tuple[str, int]]:
    found: set[tuple[str, int]] = set()
    for one in reached:
        for kind in ("vessel", "fill", "crop", "lot"):
            if (pk := getattr(one, f"{kind}_pk")) is not None:
                found.add((kind, pk))
    return found


def _of(kind: str, things: Iterable[tuple[str, int]]) -> list[int]:
    return [pk for name, pk in things if name == kind]

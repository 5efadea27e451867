"""Reads of batches that more than one caller needs."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime

from django.db.models import F, Q, QuerySet, Sum
from django.utils import timezone

from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.refusals import Refusal


def fill_at(vessel: Vessel, moment: datetime, *, field: str) -> BatchFill:
    """What a vessel contained at a time; refused where that is nothing, or no batch. 1 query."""
    fill = (
        Fill.objects.filter(vessel=vessel, filled_at__lte=moment)
        .filter(Q(emptying__isnull=True) | Q(emptying__emptied_at__gte=moment))
        .select_related("of_batch__batch__beer", "vessel", "beer")
        .order_by("-filled_at", "-pk")
        .first()
    )
    if fill is None:
        raise Refusal(
            f"{vessel.name} was empty at that time. Choose another vessel, or another time.",
            field=field,
            code="empty",
        )
    link = getattr(fill, "of_batch", None)
    if link is None:
        raise Refusal(
            f"{vessel.name} contains {fill.beer} {fill.batch}, which has no batch recorded.",
            field=field,
            code="no_batch",
        )
    link.fill = fill
    found: BatchFill = link
    return found


def vessels_with_batch() -> QuerySet[Vessel]:
    """Vessels that contain a batch now. 1 query."""
    return Vessel.objects.filter(
        pk__in=Fill.objects.filter(emptying__isnull=True, of_batch__isnull=False).values("vessel")
    )


def left_in(fill: Fill) -> float:
    """What should be left of a fill, hL, after all that went out of it. 1 query."""
    out = Movement.objects.filter(from_fill=fill).aggregate(out=Sum(F("volume_hl") + F("loss_hl")))
    return fill.volume_hl - (out["out"] or 0)


@dataclasses.dataclass(frozen=True)
class Contents:
    """What a fill was of: its batch, and the yeast that was pitched into it."""

    batch: Batch
    crops: Sequence[YeastCrop]

    @property
    def words(self) -> str:
        """As '26-031, brewed 10 Mar 2026, yeast Y-01, generation 2'."""
        brewed = timezone.localdate(self.batch.brewed_at)
        verb = "blended" if self.batch.blended else "brewed"
        yeast = (f"yeast {crop.number}, generation {crop.generation}" for crop in self.crops)
        return ", ".join([f"{self.batch.number}, {verb} {brewed.day} {brewed:%b %Y}", *yeast])


def contents_of(fill: Fill | None) -> Contents | None:
    """The batch of a fill with every crop that was ever pitched into it; 2 queries, or fewer."""
    link = BatchFill.objects.filter(fill=fill).select_related("batch").first() if fill else None
    if link is None:
        return None
    crops = YeastCrop.objects.filter(
        pitchings__kind=MovementKind.PITCH, pitchings__to_fill__of_batch__batch=link.batch
    )
    return Contents(link.batch, list(crops.distinct().order_by("cropped_at", "pk")))


@dataclasses.dataclass(frozen=True)
class Balance:
    """What became of a batch, hL; ``difference_hl`` is what nobody recorded."""

    produced: float
    packaged: float
    in_vessels: float
    yeast: float
    lost: float

    @property
    def difference_hl(self) -> float:
        return self.produced - self.packaged - self.in_vessels - self.yeast - self.lost


def balance_of(batch: Batch) -> Balance:
    """Produced, packaged, in vessels, lost. 2 queries."""
    links = list(batch.filled.select_related("fill__emptying", "fill__crop"))
    out: dict[int, float] = {}
    packaged = yeast = lost = 0.0
    into_others: dict[int, float] = {}
    for move in Movement.objects.filter(from_fill__of_batch__batch=batch):
        volume = move.volume_hl or 0
        out[move.from_fill_id or 0] = out.get(move.from_fill_id or 0, 0) + volume + move.loss_hl
        lost += move.loss_hl
        if move.kind == MovementKind.PACKAGE:
            packaged += volume
        elif move.kind == MovementKind.CROP:
            yeast += volume
        elif move.kind == MovementKind.TRANSFER:
            into_others[move.to_fill_id or 0] = volume
    own = {link.fill_id for link in links}
    given = sum(volume for fill, volume in into_others.items() if fill not in own)
    received = batch.volume_hl
    standing = sum(
        link.fill.volume_hl - out.get(link.fill_id, 0)
        for link in links
        if not hasattr(link.fill, "emptying") and not hasattr(link.fill, "crop")
    )
    return Balance(received, packaged + given, standing, yeast, lost)

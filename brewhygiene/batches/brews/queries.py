"""Reads of batches that more than one caller needs."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime

from django.db.models import F, Q, QuerySet, Sum
from django.utils import timezone

from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.quantities.style import shown_moment
from brewhygiene.quantities.words import BEFORE_RECORD
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
    """What should be left of a fill, hL, after all that went out of it. 1 query.

    Of yeast in a vessel also what was pitched or dumped of the crop.
    """
    out = Movement.objects.filter(Q(from_fill=fill) | Q(from_crop__fill=fill)).aggregate(
        out=Sum(F("volume_hl") + F("loss_hl"))
    )
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
        if self.batch.before_record:
            verb = f"{BEFORE_RECORD}, in its vessel since"
        yeast = (f"yeast {crop.number}, generation {crop.generation}" for crop in self.crops)
        return ", ".join([f"{self.batch.number}, {verb} {shown_moment(brewed, 'j M Y')}", *yeast])


def contents_of(*fills: Fill | None) -> list[Contents | None]:
    """Of each fill its batch, with every crop that was ever pitched into it. 2 queries."""
    # A key that no row has keeps the number of queries the same where there is no fill.
    keys = [fill.pk for fill in fills if fill is not None] or [0]
    batches = {
        link.fill_id: link.batch
        for link in BatchFill.objects.filter(fill__in=keys).select_related("batch")
    }
    pitched: dict[int, list[YeastCrop]] = {}
    for movement in (
        Movement.objects.filter(
            kind=MovementKind.PITCH,
            to_fill__of_batch__batch__in=[batch.pk for batch in batches.values()] or [0],
            from_crop__isnull=False,
        )
        .select_related("from_crop", "to_fill__of_batch")
        .order_by("moved_at", "pk")
    ):
        crop, fill = movement.from_crop, movement.to_fill
        assert crop is not None
        assert fill is not None
        crops = pitched.setdefault(fill.of_batch.batch_id, [])  # type: ignore[attr-defined]
        if crop not in crops:
            crops.append(crop)
    found = (batches.get(fill.pk) if fill is not None else None for fill in fills)
    return [
        Contents(batch, pitched.get(batch.pk, [])) if batch is not None else None for batch in found
    ]

"""Which batches and crops a batch or a crop comes from."""

from collections import deque

from brewhygiene.batches.models.batches import Batch, BatchFill, YeastCrop
from brewhygiene.batches.models.movements import Movement, MovementKind

PARENT_KINDS = (MovementKind.TRANSFER, MovementKind.PITCH)


def ancestors_of(subject: Batch | YeastCrop) -> set[Batch]:
    """Every batch that something comes from, by yeast or blend, itself included.

    Written once a pitching or a blend, so that it may ask 3 queries a generation.
    """
    found: dict[int, Batch] = {}
    waiting: deque[Batch] = deque()
    if isinstance(subject, Batch):
        waiting.append(subject)
    elif subject.cropped_from is not None:
        waiting.append(subject.cropped_from)
    while waiting:
        level = [batch for batch in waiting if batch.pk not in found]
        waiting.clear()
        found |= {batch.pk: batch for batch in level}
        fills = BatchFill.objects.filter(batch__in=level).values("fill")
        into = Movement.objects.filter(to_fill__in=fills, kind__in=PARENT_KINDS)
        waiting.extend(
            link.batch
            for link in BatchFill.objects.filter(
                fill__in=into.filter(from_fill__isnull=False).values("from_fill")
            ).select_related("batch")
        )
        waiting.extend(
            crop.cropped_from
            for crop in YeastCrop.objects.filter(
                pk__in=into.filter(from_crop__isnull=False).values("from_crop")
            ).select_related("cropped_from")
            if crop.cropped_from is not None
        )
    return set(found.values())

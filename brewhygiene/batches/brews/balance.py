"""What became of a batch: produced, packaged, in vessels, dumped, lost."""

import dataclasses
from typing import Any

from django.db.models import Q

from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.cellar.models import GONE_THROUGH


@dataclasses.dataclass(frozen=True)
class Balance:
    """What became of a batch, hL; ``difference_hl`` is what nobody recorded."""

    produced: float
    packaged: float
    in_vessels: float
    yeast: float
    dumped: float
    lost: float

    @property
    def difference_hl(self) -> float:
        gone = self.packaged + self.in_vessels + self.yeast + self.dumped + self.lost
        return round(self.produced - gone, 6)

    @property
    def parts(self) -> dict[str, float]:
        """By name, as a recall drill keeps them, hL."""
        values: dict[str, Any] = dataclasses.asdict(self)
        return {
            name: round(value, 6)
            for name, value in {**values, "difference": self.difference_hl}.items()
        }


def balance_of(batch: Batch) -> Balance:
    """Produced, packaged, in vessels, dumped, lost. 2 queries.

    Beer that came from nobody knows where is taken to come from the vessel that it was in last.
    What another batch was poured into this one with counts as produced; a blend is all of that.
    """
    links = {
        link.fill_id: link.fill
        for link in batch.filled.select_related("fill__vessel", "fill__emptying", "fill__crop")
        if link.fill.vessel.kind not in GONE_THROUGH and not hasattr(link.fill, "crop")
    }
    left = {pk: fill.volume_hl for pk, fill in links.items()}
    unknown: dict[int, int] = {}
    packaged = yeast = dumped = lost = added = 0.0
    moves = Movement.objects.filter(Q(from_fill__in=links) | Q(to_fill__in=links))
    for move in moves.order_by("from_fill"):
        source, target = move.from_fill_id or 0, move.to_fill_id or 0
        volume = move.volume_hl or 0
        if source not in links:
            added += volume if move.kind == MovementKind.TRANSFER else 0
            continue
        left[source] -= volume + move.loss_hl
        lost += move.loss_hl
        if move.kind == MovementKind.DUMP:
            dumped += volume
        elif move.kind == MovementKind.CROP:
            yeast += volume
        elif move.kind == MovementKind.PACKAGE or target not in links:
            packaged += volume
        if move.kind == MovementKind.UNKNOWN and target in links:
            unknown[target] = source
    for target, source in unknown.items():
        left[source] -= links[target].volume_hl
    standing = sum(left[pk] for pk, fill in links.items() if not hasattr(fill, "emptying"))
    produced = added if batch.blended else batch.volume_hl + added
    if batch.before_record:
        produced = added + sum(fill.volume_hl for fill in links.values() if fill.before_record)
    return Balance(produced, packaged, standing, yeast, dumped, lost)

"""The lines of a trace's page: each thing at risk beside its hold and what was decided."""

import dataclasses
from collections.abc import Iterable, Sequence

from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.trace.ranks import BatchAtRisk, CropAtRisk, Trace


@dataclasses.dataclass(frozen=True)
class Row:
    """A batch or a crop at risk, with its own hold."""

    at_risk: BatchAtRisk | CropAtRisk
    hold: Hold | None

    @property
    def batch(self) -> Batch | None:
        return self.at_risk.batch if isinstance(self.at_risk, BatchAtRisk) else None

    @property
    def crop(self) -> YeastCrop | None:
        return self.at_risk.crop if isinstance(self.at_risk, CropAtRisk) else None


@dataclasses.dataclass(frozen=True)
class Rows:
    """A trace by rank, and the one hold of all that is decided together."""

    beer: Sequence[Row]
    yeast: Sequence[Row]
    passed_through: Sequence[Row]
    rest: Hold | None

    @property
    def open_decisions(self) -> int:
        """How many holds nobody has ended."""
        singly = [row.hold for row in (*self.beer, *self.yeast)]
        return sum(hold is not None and hold.ended_at is None for hold in (*singly, self.rest))


def rows_of(trace: Trace) -> Rows:
    """Each line of a trace with its hold and its decisions. 2 queries."""
    holds = list(
        Hold.objects.filter(plate=trace.plate)
        .select_related("batch", "crop")
        .prefetch_related("decisions__signature", "notes__correction__signature")
    )
    of_batch = {hold.batch_id: hold for hold in holds if hold.batch_id}
    of_crop = {hold.crop_id: hold for hold in holds if hold.crop_id}

    def rows(found: Iterable[BatchAtRisk | CropAtRisk]) -> list[Row]:
        return [
            Row(
                one,
                of_batch.get(one.batch.pk)
                if isinstance(one, BatchAtRisk)
                else of_crop.get(one.crop.pk),
            )
            for one in found
        ]

    return Rows(
        beer=rows(trace.beer),
        yeast=rows(trace.yeast),
        passed_through=[Row(one, None) for one in trace.passed_through],
        rest=next((hold for hold in holds if not hold.batch_id and not hold.crop_id), None),
    )

"""Reads of the board and of a vessel's page."""

import dataclasses
from datetime import datetime

from django.db.models import (
    BooleanField,
    Count,
    ExpressionWrapper,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
)
from django.db.models.functions import Coalesce

from brewhygiene.batches.holds import open_holds
from brewhygiene.batches.models.batches import BatchFill
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.regimes.models import Quantity, StepWindow
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.progress import minutes_of


def vessels_for_board() -> QuerySet[Vessel]:
    """Vessels in the order of the cellar, with what their cards say besides their status.

    ``fills_without_release`` and ``open_plate_pk``; ``contents_held``, whether the batch in it
    is held; ``open_decisions``, how many holds nobody has ended, the same for every vessel.
    """
    irregular = (
        Fill.objects.filter(vessel=OuterRef("pk"), without_release=True)
        .order_by()
        .values("vessel")
        .annotate(number=Count("pk"))
        .values("number")
    )
    open_plate = Plate.objects.filter(
        vessel=OuterRef("pk"), state=PlateState.POSITIVE, resolved_at__isnull=True
    ).order_by("read_at", "pk")
    # Neither asks about the vessel around it: the database answers each once for all of them.
    held = open_holds().order_by()
    contents_held = BatchFill.objects.filter(
        batch__in=held.filter(batch__isnull=False).values("batch"), fill__emptying__isnull=True
    )
    all_open = held.annotate(one=Value(1)).values("one").annotate(number=Count("pk"))
    return Vessel.objects.annotate(
        fills_without_release=Coalesce(Subquery(irregular), 0),
        open_plate_pk=Subquery(open_plate.values("pk")[:1]),
        contents_held=ExpressionWrapper(
            Q(pk__in=contents_held.values("fill__vessel")), output_field=BooleanField()
        ),
        open_decisions=Coalesce(Subquery(all_open.values("number")), 0),
    )


@dataclasses.dataclass(frozen=True)
class RunningStep:
    """The step that is on in a vessel; ``before_s`` ran in attempts that this one prolongs.

    ``minutes`` go on by themselves, so they are nothing new to a page that follows the board.
    """

    name: str
    started_at: datetime
    before_s: float
    pk: int
    target_min: float | None
    maximum_min: float | None
    minutes: float = dataclasses.field(repr=False)

    @property
    def bounds_s(self) -> dict[str, float]:
        """Its target and maximum in seconds, by what a page calls them."""
        known = {"target": self.target_min, "maximum": self.maximum_min}
        return {name: 60 * value for name, value in known.items() if value is not None}

    @property
    def is_over(self) -> bool:
        return self.maximum_min is not None and self.minutes > self.maximum_min


def running_steps(*, now: datetime) -> dict[int, RunningStep]:
    """The step that is on, by the vessel's primary key. 1 query, 2 while any step is on."""
    window = StepWindow.objects.filter(step=OuterRef("step"), quantity=Quantity.TIME_MIN)
    records = {
        record.pk: record
        for record in StepRecord.objects.filter(
            clean__finished_at__isnull=True, clean__stopped_at__isnull=True
        )
        .select_related("step", "clean__turnaround")
        .prefetch_related("readings")
        .annotate(
            target_min=Subquery(window.values(asked=Coalesce("target", "minimum"))[:1]),
            maximum_min=Subquery(window.values("maximum")[:1]),
        )
    }
    found = {}
    for record in records.values():
        if record.extends_id is not None:
            record.extends = records[record.extends_id]
        if record.ended_at is None:
            found[record.clean.turnaround.vessel_id] = RunningStep(
                name=record.step.get_kind_display(),
                started_at=record.started_at,
                before_s=60 * minutes_of(record, until=record.started_at),
                minutes=minutes_of(record, until=now),
                pk=record.pk,
                target_min=record.target_min,
                maximum_min=record.maximum_min,
            )
    return found

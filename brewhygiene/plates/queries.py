"""Reads of plates that more than one caller needs."""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery

from brewhygiene.cellar.models import Fill
from brewhygiene.plates.growth import Growth, growth_of
from brewhygiene.plates.models import DishCount, Plate, PlateCorrection, PlateState
from brewhygiene.plates.questions import AtRisk, at_risk_of
from brewhygiene.turnarounds.models import Turnaround


def fills_at_risk(plate: Plate) -> QuerySet[Fill]:
    """Every fill of the vessel since its last good plate before this one. 2 queries."""
    last_good = (
        Plate.objects.filter(
            vessel_id=plate.vessel_id,
            state=PlateState.NEGATIVE,
            neutralised=True,
            taken_at__lt=plate.taken_at,
        )
        .order_by("-taken_at")
        .values_list("taken_at", flat=True)
        .first()
    )
    fills = Fill.objects.filter(vessel_id=plate.vessel_id).select_related("beer", "vessel")
    return (fills.filter(filled_at__gte=last_good) if last_good else fills).order_by("-filled_at")


def with_dishes(plates: QuerySet[Plate]) -> QuerySet[Plate]:
    """Plates with the dishes of the current reading, for ``growth_of``. 1 query more."""
    return plates.prefetch_related(
        Prefetch(
            "dishes",
            queryset=DishCount.objects.filter(replaced_by__isnull=True),
            to_attr="standing_dishes",
        )
    )


def plates_on_record(turnaround: Turnaround) -> QuerySet[Plate]:
    """A turnaround's plates with their dishes and corrections. 3 queries."""
    corrections = PlateCorrection.objects.select_related("corrected_by", "was_read_by", "signature")
    return with_dishes(
        Plate.objects.filter(turnaround=turnaround)
        .select_related("point", "sent_by", "read_by", "closing__reclean__version__regime")
        .select_related("closing__recorded_by", "closing__replating__point")
        .prefetch_related(Prefetch("corrections", queryset=corrections))
    )


def named_plates() -> QuerySet[Plate]:
    """Plates with all that their pages name. 1 query."""
    return Plate.objects.select_related(
        "point", "vessel", "turnaround__vessel", "sent_by", "read_by", "resolution_signature"
    ).select_related(
        "closing__reclean__version__regime", "closing__recorded_by", "closing__replating__point"
    )


def plates_for_pages() -> QuerySet[Plate]:
    """The same with their dishes. 2 queries."""
    return with_dishes(named_plates())


@dataclasses.dataclass(frozen=True)
class PlateLine:
    """A plate, its count, and the fills that it puts at risk."""

    plate: Plate
    growth: Growth | None
    at_risk: Sequence[Fill] = ()
    held: Sequence[AtRisk] = ()

    @property
    def open_decisions(self) -> int:
        """How many of those that it holds nobody has decided for good."""
        return sum(one.is_open for one in self.held)


def lines_of(plates: Iterable[Plate]) -> list[PlateLine]:
    """Plates that came with their dishes, each with its count. No query of its own."""
    return [PlateLine(plate, growth_of(plate)) for plate in plates]


def positive_lines() -> list[PlateLine]:
    """Open positive plates, the oldest first, each with the fills at risk. 5 queries."""
    last_good = Plate.objects.filter(
        vessel=OuterRef("vessel"),
        state=PlateState.NEGATIVE,
        neutralised=True,
        taken_at__lt=OuterRef("taken_at"),
    ).order_by("-taken_at")
    plates = list(
        positive_plates().annotate(last_good_at=Subquery(last_good.values("taken_at")[:1]))
    )
    fills = Fill.objects.filter(vessel__in={plate.vessel_id for plate in plates})
    by_vessel: dict[int, list[Fill]] = {}
    for fill in fills.select_related("beer").order_by("-filled_at"):
        by_vessel.setdefault(fill.vessel_id, []).append(fill)
    held = at_risk_of(plates)
    return [
        PlateLine(
            plate,
            growth_of(plate),
            [
                fill
                for fill in by_vessel.get(plate.vessel_id, [])
                if _at_risk(fill, plate.last_good_at)  # type: ignore[attr-defined]
            ],
            held.get(plate.pk, ()),
        )
        for plate in plates
    ]


def _at_risk(fill: Fill, last_good_at: datetime | None) -> bool:
    """The same rule as ``fills_at_risk``."""
    return last_good_at is None or fill.filled_at >= last_good_at


def last_dish_at(plate: Plate) -> DishCount | None:
    """The first dish of the plate read last at the same point, for its volume. 1 query."""
    return (
        DishCount.objects.filter(plate__point_id=plate.point_id, replaced_by__isnull=True)
        .exclude(plate=plate)
        .order_by("-plate__read_at", "pk")
        .first()
    )


def waiting_plates() -> QuerySet[Plate]:
    """Plates in incubation, the one due first leading. 1 query."""
    return named_plates().filter(state=PlateState.PENDING).order_by("due_on", "pk")


def positive_plates() -> QuerySet[Plate]:
    """Positive plates that nobody has closed, the oldest first. 2 queries."""
    return (
        plates_for_pages()
        .filter(state=PlateState.POSITIVE, resolved_at__isnull=True)
        .order_by("read_at", "pk")
    )


def settled_plates() -> QuerySet[Plate]:
    """Negative plates and closed positive ones, the latest first. 2 queries."""
    return (
        plates_for_pages()
        .filter(Q(state=PlateState.NEGATIVE) | Q(resolved_at__isnull=False))
        .order_by("-read_at", "-pk")
    )


def corrections_of(plate: Plate) -> QuerySet[PlateCorrection]:
    """Earlier readings of a plate, each with its dishes. 2 queries."""
    return plate.corrections.select_related(
        "corrected_by", "was_read_by", "signature"
    ).prefetch_related("dishes_before")

"""Which cleans and plates a positive plate can be closed with."""

import dataclasses
from datetime import datetime

from django.db.models import Min, Q, QuerySet

from brewhygiene.cellar.models import CleanLevel, Vessel
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.regimes.models import Regime
from brewhygiene.turnarounds.models import Clean, CleanPurpose


def positive_since(plate: Plate) -> datetime:
    """When a plate was first read positive, whatever was corrected of it since. 1 query."""
    assert plate.read_at is not None
    first = plate.corrections.filter(was_state=PlateState.POSITIVE).aggregate(
        at=Min("was_read_at")
    )["at"]
    return plate.read_at if first is None else min(first, plate.read_at)


def level_needed(vessel: Vessel) -> CleanLevel:
    """A strong clean; where the site has none for this kind of vessel, its strongest. 1 query."""
    regimes = Regime.objects.filter(active=True, resanitises_only=False)
    levels = [
        level
        for level, kinds in regimes.values_list("level", "vessel_kinds")
        if vessel.kind in kinds
    ]
    return CleanLevel(max(levels, default=CleanLevel.STRONG))


def recleans_of(plate: Plate) -> QuerySet[Clean]:
    """Cleans of a plate's vessel that are strong enough, and ended after it was positive.

    The latest first. 2 queries to put it together.
    """
    return (
        Clean.objects.filter(
            turnaround__vessel=plate.vessel_id,
            purpose=CleanPurpose.CLEAN,
            finished_at__gt=positive_since(plate),
            version__regime__level__gte=level_needed(plate.vessel),
        )
        .select_related("version__regime", "turnaround__vessel", "finished_by")
        .order_by("-finished_at")
    )


def plates_again(plate: Plate, reclean: Clean) -> QuerySet[Plate]:
    """Plates of the same point and medium, taken after a re-clean, the latest first.

    Where the point is retired since, those of any point of the vessel.
    """
    same = Q(point=plate.point_id) if plate.point.active else Q()
    return (
        Plate.objects.filter(
            same,
            vessel=plate.vessel_id,
            medium__iexact=plate.medium,
            taken_at__gte=reclean.finished_at,
        )
        .select_related("point")
        .order_by("-taken_at")
    )


@dataclasses.dataclass(frozen=True)
class Ways:
    """What there is to close a plate with."""

    level: CleanLevel
    recleans: QuerySet[Clean]
    again: QuerySet[Plate]  # those taken after the first of the re-cleans

    @property
    def negative(self) -> QuerySet[Plate]:
        return self.again.filter(state=PlateState.NEGATIVE, neutralised=True)


def ways_to_close(plate: Plate) -> Ways:
    """What a plate can be closed with so far. 4 queries to put it together."""
    recleans = recleans_of(plate)
    first = recleans.last()
    again = plates_again(plate, first) if first is not None else Plate.objects.none()
    return Ways(level_needed(plate.vessel), recleans, again)

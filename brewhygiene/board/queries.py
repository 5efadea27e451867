"""Reads of the board and of a vessel's page."""

from django.db.models import Count, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.plates.models import Plate, PlateState


def vessels_for_board() -> QuerySet[Vessel]:
    """Vessels with ``fills_without_release`` and ``open_plate_pk``, in the order of the cellar."""
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
    return Vessel.objects.annotate(
        fills_without_release=Coalesce(Subquery(irregular), 0),
        open_plate_pk=Subquery(open_plate.values("pk")[:1]),
    )

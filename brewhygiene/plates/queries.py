"""Reads of plates that more than one caller needs."""

from django.db.models import Q, QuerySet

from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.plates.models import Plate, PlateState


def open_positives(vessel: Vessel) -> QuerySet[Plate]:
    """Positive plates of a vessel that nobody has closed. 1 query."""
    return Plate.objects.filter(
        vessel=vessel, state=PlateState.POSITIVE, resolved_at__isnull=True
    ).select_related("point", "turnaround")


def fills_at_risk(plate: Plate) -> QuerySet[Fill]:
    """Every fill of the vessel since its last good plate before this one. 2 queries."""
    last_good = (
        Plate.objects.filter(
            vessel_id=plate.vessel_id, state=PlateState.NEGATIVE, taken_at__lt=plate.taken_at
        )
        .order_by("-taken_at")
        .values_list("taken_at", flat=True)
        .first()
    )
    fills = Fill.objects.filter(vessel_id=plate.vessel_id).select_related("beer", "vessel")
    return (fills.filter(filled_at__gte=last_good) if last_good else fills).order_by("-filled_at")


def plates_for_pages() -> QuerySet[Plate]:
    """Plates with all that their pages name. 1 query."""
    return Plate.objects.select_related(
        "point", "vessel", "turnaround", "sent_by", "read_by", "resolution_signature"
    )


def waiting_plates() -> QuerySet[Plate]:
    """Plates that still grow, the one due first leading. 1 query."""
    return plates_for_pages().filter(state=PlateState.PENDING).order_by("due_on", "pk")


def positive_plates() -> QuerySet[Plate]:
    """Positive plates that nobody has closed, the oldest first. 1 query."""
    return (
        plates_for_pages()
        .filter(state=PlateState.POSITIVE, resolved_at__isnull=True)
        .order_by("read_at", "pk")
    )


def settled_plates() -> QuerySet[Plate]:
    """Negative plates and closed positive ones, the latest first. 1 query."""
    return (
        plates_for_pages()
        .filter(Q(state=PlateState.NEGATIVE) | Q(resolved_at__isnull=False))
        .order_by("-read_at", "-pk")
    )

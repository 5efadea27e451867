"""Reads for the cellar's set-up."""

from django.db.models import Count, Q, QuerySet

from brewhygiene.cellar.models import Beer, SamplingPoint, Vessel

_IN_USE = Q(points__active=True)


def vessels_for_setup() -> QuerySet[Vessel]:
    """Every vessel with ``points_in_use`` and ``points_required``. 1 query."""
    return Vessel.objects.annotate(
        points_in_use=Count("points", filter=_IN_USE),
        points_required=Count("points", filter=_IN_USE & Q(points__required_for_release=True)),
    ).order_by("order", "name")


def points_of(vessel: Vessel) -> list[SamplingPoint]:
    """A vessel's points, retired ones last. 1 query."""
    return list(vessel.points.order_by("-active", "order", "id"))


def beers_for_setup() -> QuerySet[Beer]:
    """Every beer, those no longer brewed last. 1 query."""
    return Beer.objects.order_by("-active", "name")

"""Reads for the cellar's set-up."""

from django.db.models import Count, Q, QuerySet

from brewhygiene.cellar.models import Beer, SamplingPoint, Vessel
from brewhygiene.quantities.sorting import natural_key

_IN_USE = Q(points__active=True)


def by_place(vessel: Vessel) -> tuple[object, ...]:
    """Where a vessel stands in the cellar's order, and by its name: FV 2 before FV 10.

    >>> by_place(Vessel(name="FV 2")) < by_place(Vessel(name="fv 10"))
    True
    """
    return vessel.order, natural_key(vessel.name)


def vessels_for_setup() -> list[Vessel]:
    """Every vessel with ``points_in_use`` and ``points_required``, by place. 1 query."""
    vessels = Vessel.objects.annotate(
        points_in_use=Count("points", filter=_IN_USE),
        points_required=Count("points", filter=_IN_USE & Q(points__required_for_release=True)),
    )
    return sorted(vessels, key=by_place)


def points_of(vessel: Vessel) -> list[SamplingPoint]:
    """A vessel's points, retired ones last. 1 query."""
    return list(vessel.points.order_by("-active", "order", "id"))


def beers_for_setup() -> QuerySet[Beer]:
    """Every beer, those no longer brewed last. 1 query."""
    return Beer.objects.order_by("-active", "sort_key")

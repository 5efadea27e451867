"""Reads for the cellar's set-up."""

from django.db.models import Count, Q, QuerySet

from brewhygiene.cellar.clock_actions import Hours, hours_of
from brewhygiene.cellar.models import Beer, HoldClock, SamplingPoint, Vessel

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


def stored_clocks() -> dict[str, Hours]:
    """The hours of the kinds of vessel that the site has set, by kind. 1 query."""
    return {clock.vessel_kind: hours_of(clock) for clock in HoldClock.objects.all()}

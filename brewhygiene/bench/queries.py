"""The agents and vessels that the bench offers to fill in."""

from django.db.models import QuerySet

from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.models import Agent


def agents_to_offer(substances: list[str]) -> QuerySet[Agent]:
    """Agents in use whose active substance is among ``substances``. 1 query."""
    return Agent.objects.filter(active=True, active_substance__in=substances)


def vessels_to_offer() -> QuerySet[Vessel]:
    """Every vessel, in the order of the board. 1 query."""
    return Vessel.objects.order_by("order", "sort_key")

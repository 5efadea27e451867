"""Reads of regimes that more than one caller needs."""

from django.db.models import Prefetch, QuerySet

from brewhygiene.regimes.models import RegimeVersion, Step


def versions_with_steps() -> QuerySet[RegimeVersion]:
    """Versions with regime, steps, agents and windows loaded. 3 queries."""
    steps = Step.objects.select_related("agent").prefetch_related("windows")
    return RegimeVersion.objects.select_related("regime").prefetch_related(
        Prefetch("steps", queryset=steps)
    )


def current_versions() -> QuerySet[RegimeVersion]:
    """The version in force of every active regime, with its steps. 3 queries."""
    return versions_with_steps().filter(current=True, regime__active=True).order_by("regime__name")

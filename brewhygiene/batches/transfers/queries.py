"""Reads for transfers that more than one caller needs."""

from datetime import datetime

from django.db.models import QuerySet

from brewhygiene.cellar.models import GONE_THROUGH, Vessel
from brewhygiene.release.queries import states_of


def tanks_with_status(now: datetime) -> tuple[QuerySet[Vessel], dict[int, str]]:
    """Vessels that can contain beer or yeast, and the status of each in a word. 7 queries."""
    tanks = Vessel.objects.filter(out_of_service_since__isnull=True).exclude(kind__in=GONE_THROUGH)
    return tanks, {state.vessel.pk: state.status.code.label for state in states_of(tanks, now=now)}

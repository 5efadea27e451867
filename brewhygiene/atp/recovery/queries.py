"""Reads of recovery studies."""

from collections.abc import Iterable

from django.db.models import QuerySet

from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.models.recovery import RecoveryStudy
from brewhygiene.cellar.moments import SamplingMoment


def studies() -> QuerySet[RecoveryStudy]:
    """All of them with what names them, those in use first. 1 query."""
    return RecoveryStudy.objects.select_related(
        "agent", "meter", "atp_test", "recorded_by", "signature"
    ).order_by("retired_at", "-done_on", "-pk")


def recovery_studies_for(results: Iterable[Result]) -> list[RecoveryStudy]:
    """The studies that prove something of the meters of readings in a sanitiser. 1 query, or 0."""
    meters = {r.meter_id for r in results if r.moment == SamplingMoment.IN_SANITISER}
    if not meters:
        return []
    return list(RecoveryStudy.objects.filter(meter__in=meters, proved=True))

"""Reads of found causes."""

from brewhygiene.atp.models.causes import FoundCause
from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.turnarounds.models import Turnaround


def found_causes(turnaround: Turnaround) -> list[FoundCause]:
    """What was found in a turnaround, in the order of recording. 1 query."""
    return list(
        turnaround.found_causes.select_related("result__point", "recorded_by").order_by("pk")
    )


def readings_over_a_limit(turnaround: Turnaround) -> list[Result]:
    """The standing readings over a limit, those over the action limit first. 1 query."""
    return list(
        turnaround.results.filter(
            verdict__in=[Verdict.ACTION, Verdict.ALERT], corrected_by__isnull=True
        )
        .select_related("point")
        .order_by("verdict", "-pk")
    )

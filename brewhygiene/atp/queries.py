"""Reads of ATP records that more than one caller needs."""

import zoneinfo
from datetime import date, datetime

from django.db.models import F, Q, QuerySet

from brewhygiene.atp.models import ControlCheck, LimitSet, Meter, Result, SampleStage, StickLot
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models import Clean, Turnaround


def brewery_day(moment: datetime, brewery: Brewery) -> date:
    """The calendar day of a moment where the brewery stands."""
    return moment.astimezone(zoneinfo.ZoneInfo(brewery.time_zone)).date()


def limits_in_force(
    *, meter: Meter, stick_lot: StickLot, point: SamplingPoint, day: date
) -> LimitSet | None:
    """The approved limits of a meter with a stick type at a point on a day. 1 query.

    The point's own set goes before the one for all points. Another meter's, stick type's or
    sample kind's limits are never used. A set judges up to its last day, which is in it; from
    then on nothing does, not even the set for all points in the place of a point's own: it may
    be looser, and nobody chose it.
    """
    found = (
        LimitSet.objects.filter(
            Q(point=point) | Q(point__isnull=True),
            meter=meter,
            stick_type_id=stick_lot.stick_type_id,
            sample_kind=point.sample_kind,
            approved_at__isnull=False,
            retired_at__isnull=True,
        )
        .order_by(F("point_id").asc(nulls_last=True))
        .first()
    )
    return None if found is None or found.run_out_on(day) else found


def control_check_of_day(*, meter: Meter, day: date) -> ControlCheck | None:
    """A meter's latest control check of a day. 1 query."""
    return (
        ControlCheck.objects.filter(meter=meter, checked_on=day)
        .select_related("checked_by")
        .order_by("-checked_at", "-pk")
        .first()
    )


def standing_results(results: QuerySet[Result]) -> QuerySet[Result]:
    """The results that no correction replaces."""
    return results.filter(corrected_by__isnull=True)


def last_finished_clean(turnaround: Turnaround) -> Clean | None:
    """The latest clean or re-sanitise that was finished. 1 query."""
    return (
        turnaround.cleans.filter(finished_at__isnull=False)
        .select_related("version__regime", "turnaround__vessel")
        .order_by("-finished_at", "-pk")
        .first()
    )


def why_not_sample(turnaround: Turnaround) -> tuple[str, str] | None:
    """Why no sample counts now, as a code and in words, or ``None``. 1 query.

    Codes: ``closed``, ``clean_running``, ``not_cleaned``, ``clean_stopped``.
    """
    name = turnaround.vessel.name
    if turnaround.closed_at is not None:
        return "closed", f"{name} has been filled since; this turnaround is closed."
    latest = turnaround.cleans.order_by("-pk").first()
    if latest is None:
        return "not_cleaned", f"{name} has not been cleaned since it was emptied."
    if latest.running:
        return "clean_running", "The clean is still running. Sample when it has ended."
    if latest.stopped_at is not None:
        return "clean_stopped", f"The last clean of {name} was stopped. Clean it first."
    return None


def usual_stage(clean: Clean) -> str:
    """Where a sample of this clean is usually taken. 1 query."""
    sanitised = clean.version.steps.filter(kind=StepKind.SANITISER).exists()
    return SampleStage.AFTER_SANITISER if sanitised else SampleStage.AFTER_RINSE

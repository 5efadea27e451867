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


def limits_in_force(*, meter: Meter, stick_lot: StickLot, point: SamplingPoint) -> LimitSet | None:
    """The approved limits of a meter with a stick type at a point. 1 query.

    The point's own set goes before the one for all points. Another meter's, stick type's or
    sample kind's limits are never used.
    """
    return (
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


def usual_stage(clean: Clean) -> str:
    """Where a sample of this clean is usually taken. 1 query."""
    sanitised = clean.version.steps.filter(kind=StepKind.SANITISER).exists()
    return SampleStage.AFTER_SANITISER if sanitised else SampleStage.AFTER_RINSE

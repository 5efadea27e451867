"""Reads of ATP records that more than one caller needs."""

import dataclasses
import zoneinfo
from datetime import date, datetime

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from brewhygiene.atp.models import ControlCheck, LimitSet, Meter, Result, SampleStage, StickLot
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.regimes.models import Step, StepKind
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


@dataclasses.dataclass(frozen=True)
class ToSample:
    """The clean that a sample counts for now: the latest that was finished, or ``None``.

    ``not_now`` is why no sample counts now, as a code (``closed``, ``clean_running``,
    ``not_cleaned``, ``clean_stopped``) and in words; ``sanitised`` whether the clean has a
    sanitiser step.
    """

    clean: Clean | None
    not_now: tuple[str, str] | None
    sanitised: bool = False

    @property
    def usual_stage(self) -> str:
        """Where a sample of it is usually taken."""
        return SampleStage.AFTER_SANITISER if self.sanitised else SampleStage.AFTER_RINSE

    @property
    def stages(self) -> list[tuple[str, str]]:
        """Where a sample of it can have been taken."""
        if self.sanitised:
            return list(SampleStage.choices)
        return [(SampleStage.AFTER_RINSE.value, SampleStage.AFTER_RINSE.label)]


def to_sample(turnaround: Turnaround) -> ToSample:
    """What a sample of a turnaround counts for now. 1 query."""
    sanitiser = Step.objects.filter(version=OuterRef("version"), kind=StepKind.SANITISER)
    cleans = list(
        turnaround.cleans.select_related("version__regime")
        .annotate(has_sanitiser=Exists(sanitiser))
        .order_by("pk")
    )
    for each in cleans:
        each.turnaround = turnaround
    finished = [(each.finished_at, each.pk, each) for each in cleans if each.finished_at]
    clean = max(finished, key=lambda one: one[:2])[2] if finished else None
    return ToSample(
        clean=clean,
        not_now=_not_now(turnaround, cleans[-1] if cleans else None),
        sanitised=clean is not None and clean.has_sanitiser,  # type: ignore[attr-defined]
    )


def _not_now(turnaround: Turnaround, latest: Clean | None) -> tuple[str, str] | None:
    name = turnaround.vessel.name
    if turnaround.closed_at is not None:
        return "closed", f"{name} has been filled since; this turnaround is closed."
    if latest is None:
        return "not_cleaned", f"{name} has not been cleaned since it was emptied."
    if latest.running:
        return "clean_running", "The clean is still running. Sample when it has ended."
    if latest.stopped_at is not None:
        return "clean_stopped", f"The last clean of {name} was stopped. Clean it first."
    return None

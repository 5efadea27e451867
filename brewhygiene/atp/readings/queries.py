"""What the screens of the samples read: what is due, and what to sample with."""

import dataclasses
import json
from collections.abc import Sequence
from datetime import date
from functools import cached_property

from django.db.models import QuerySet

from brewhygiene.atp.limits.queries import limits_by_pair
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.models.readings import Result, RinseEnd, Verdict
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.people.models import User
from brewhygiene.regimes.models import EndCriterion, StepKind
from brewhygiene.turnarounds.models import Clean, CleanPurpose, Turnaround
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records


@dataclasses.dataclass(frozen=True)
class PointState:
    """A sampling point and its readings after the last clean, oldest first."""

    point: SamplingPoint
    results: Sequence[Result]

    @property
    def due(self) -> bool:
        """Whether a release requires it and it has no reading yet."""
        return self.point.required_for_release and not self.results

    @property
    def latest(self) -> Result | None:
        return self.results[-1] if self.results else None


def for_result_pages() -> QuerySet[Result]:
    """Results with all that their pages name. 1 query."""
    return Result.objects.select_related(
        "point",
        "turnaround__vessel",
        "clean",
        "meter",
        "test_lot__atp_test",
        "limits__meter",
        "limits__atp_test",
        "limits__point",
        "limits__approval",
        "retest_of",
        "corrects",
        "corrected_by",
        "recorded_by",
        "correction_signature",
    )


def point_states(turnaround: Turnaround, clean: Clean | None) -> list[PointState]:
    """Every point in use of the vessel with its standing results after ``clean``. 2 queries."""
    by_point: dict[int, list[Result]] = {}
    if clean is not None:
        for result in Result.objects.filter(clean=clean, corrected_by__isnull=True).select_related(
            "recorded_by", "meter"
        ):
            by_point.setdefault(result.point_id, []).append(result)
    return [
        PointState(point=point, results=by_point.get(point.pk, []))
        for point in SamplingPoint.objects.filter(vessel=turnaround.vessel_id, active=True)
    ]


def standing_actions(turnaround: Turnaround) -> list[Result]:
    """Readings over the action limit since the last full clean. 2 queries.

    A re-sanitise does not count as a clean.
    """
    full = (
        turnaround.cleans.filter(finished_at__isnull=False, purpose=CleanPurpose.CLEAN)
        .order_by("-pk")
        .first()
    )
    if full is None:
        return []
    return list(
        turnaround.results.filter(
            verdict=Verdict.ACTION, corrected_by__isnull=True, clean_id__gte=full.pk
        ).select_related("point")
    )


@dataclasses.dataclass(frozen=True)
class MeterToday:
    """A meter in use and its latest control check of the day."""

    meter: Meter
    check: ControlCheck | None

    @property
    def ready(self) -> bool:
        return self.check is not None and self.check.passed

    @property
    def words(self) -> str:
        if self.check is None:
            return "not checked today"
        return "checked today" if self.check.passed else "failed today's check"


def meters_today(day: date) -> list[MeterToday]:
    """Meters in use, those that passed their check on the brewery's ``day`` first. 2 queries."""
    checks: dict[int, ControlCheck] = {}
    for check in ControlCheck.objects.filter(checked_on=day).order_by("checked_at", "pk"):
        checks[check.meter_id] = check
    meters = [
        MeterToday(meter=meter, check=checks.get(meter.pk))
        for meter in Meter.objects.filter(active=True)
    ]
    return sorted(meters, key=lambda one: not one.ready)


def usual_meter(
    user: User, meters: Sequence[MeterToday], *, judged: frozenset[int] = frozenset()
) -> Meter | None:
    """The ready meter that this person used last, or anyone did, or the only one. 2 queries.

    Those that are ``judged``, which have limits for what is sampled, come before all others.
    """
    ready = [one.meter for one in meters if one.ready]
    with_limits = [meter for meter in ready if meter.pk in judged]
    ready = with_limits or ready
    used = Result.objects.filter(meter__in=ready).select_related("meter").order_by("-pk")
    last = used.filter(recorded_by=user).first() or used.first()
    if last is not None:
        return last.meter
    return ready[0] if len(ready) == 1 else None


def lots_for(point: SamplingPoint) -> QuerySet[AtpTestLot]:
    """Lots in use of the point's sample kind, in date or not. 1 query."""
    return (
        AtpTestLot.objects.filter(active=True, atp_test__sample_kind=point.sample_kind)
        .select_related("atp_test")
        .order_by("expires_on", "sort_key")
    )


def usual_lot(user: User, lots: Sequence[AtpTestLot], *, day: date) -> AtpTestLot | None:
    """The lot in date that this person used last, or anyone did, or the only one. 2 queries."""
    in_date = [lot for lot in lots if lot.expires_on >= day]
    used = Result.objects.filter(test_lot__in=in_date).order_by("-pk")
    last = used.filter(recorded_by=user).first() or used.first()
    if last is not None:
        return next(lot for lot in in_date if lot.pk == last.test_lot_id)
    return in_date[0] if len(in_date) == 1 else None


@dataclasses.dataclass(frozen=True)
class Kit:
    """What a person can sample a point with at a moment, asked for when it is first needed.

    A reading that is recorded needs none of it, only the page that asks for one.
    """

    user: User
    point: SamplingPoint
    moment: str
    day: date

    @cached_property
    def meters(self) -> list[MeterToday]:
        """2 queries, once."""
        return meters_today(self.day)

    @cached_property
    def lots(self) -> list[AtpTestLot]:
        """1 query, once."""
        return list(lots_for(self.point))

    @cached_property
    def judged(self) -> dict[tuple[int, int], LimitSet]:
        """The limits for the point, by meter and ATP test. 1 query, once."""
        return limits_by_pair(self.point, moment=self.moment, day=self.day)

    def carried_limits(self) -> str:
        """Alert level and action limit by meter and lot, for a tablet without a network."""
        return json.dumps(
            {
                f"{meter}:{lot.pk}": [limits.alert_rlu, limits.action_rlu]
                for lot in self.lots
                for (meter, atp_test), limits in self.judged.items()
                if atp_test == lot.atp_test_id
            }
        )

    @property
    def failed(self) -> list[Meter]:
        """Meters whose latest control check of the day failed."""
        return [one.meter for one in self.meters if one.check is not None and not one.ready]

    @cached_property
    def usual_meter(self) -> Meter | None:
        """A passed meter, one with limits for the usual lot first. 8 queries at most, once."""
        lots = [self.usual_lot] if self.usual_lot is not None else self.lots
        tests = {lot.atp_test_id for lot in lots if lot.expires_on >= self.day}
        judged = frozenset(meter for meter, test in self.judged if test in tests)
        return usual_meter(self.user, self.meters, judged=judged)

    @cached_property
    def usual_lot(self) -> AtpTestLot | None:
        """3 queries at most, once."""
        return usual_lot(self.user, self.lots, day=self.day)


_END_OF_RINSE = {
    EndCriterion.NEUTRAL: RinseEnd.NEUTRAL,
    EndCriterion.TAP_PH: RinseEnd.TAP,
    EndCriterion.TAP_CONDUCTIVITY: RinseEnd.TAP,
}


def rinse_end_on_record(clean: Clean) -> str:
    """How the clean's last rinse ended by its record; '' where that does not say.

    What an earlier sample of this clean recorded takes precedence. 9 queries.
    """
    recorded = clean.results.order_by("-pk").values_list("rinse_end", flat=True).first()
    if recorded is not None:
        return recorded
    progress = progress_of(cleans_with_records().get(pk=clean.pk))
    for item in reversed(progress.steps):
        if item.state != "done" or item.record is None:
            continue
        if item.step.kind == StepKind.SANITISER:
            agent = item.step.agent
            left = agent is not None and agent.no_rinse_allowed
            return RinseEnd.SANITISER_LEFT if left else ""
        if item.step.kind in (StepKind.RINSE, StepKind.HOT_WATER):
            end = _END_OF_RINSE.get(EndCriterion(item.step.end_criterion))
            return end if end is not None and item.record.end_criterion_met else ""
    return ""

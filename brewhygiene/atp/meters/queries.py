"""Reads of meters, control checks and ATP tests."""

import dataclasses
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db.models import Count, Exists, Max, OuterRef, Prefetch, Q, QuerySet, Subquery

from brewhygiene.atp.limits.queries import standing_limits
from brewhygiene.atp.meters.drift import Drift, check_charts
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, AtpTestLot, ControlCheck, Meter
from brewhygiene.atp.models.readings import Result
from brewhygiene.turnarounds.models import Turnaround


def control_check_of_day(*, meter: Meter, day: date) -> ControlCheck | None:
    """A meter's latest control check of a day. 1 query."""
    return (
        ControlCheck.objects.filter(meter=meter, checked_on=day)
        .select_related("checked_by")
        .order_by("-checked_at", "-pk")
        .first()
    )


def failed_at() -> Subquery:
    """When a result's meter failed the control check that puts the reading in doubt, else null.

    That is its next control check, or a later one of the day that it was checked for: what was
    read since the last check that passed is in doubt from the failed one on.
    """
    check = ControlCheck.objects.filter(meter=OuterRef("meter"))
    passed_before = ControlCheck.objects.filter(
        meter=OuterRef("meter"),
        passed=True,
        checked_at__gt=OuterRef(OuterRef("taken_at")),
        checked_at__lt=OuterRef("checked_at"),
    )
    is_next = Q(checked_at__gt=OuterRef("taken_at")) & ~Exists(passed_before)
    of_that_day = Q(
        checked_on=OuterRef("control_check__checked_on"),
        checked_at__gt=OuterRef("control_check__checked_at"),
    )
    failed = check.filter(is_next | of_that_day, passed=False).order_by("checked_at", "pk")
    return Subquery(failed.values("checked_at")[:1])


def failed_later(results: Sequence[Result]) -> frozenset[int]:
    """Results whose meter failed its next control check, or a later one of that day. 1 query."""
    if not results:
        return frozenset()
    return frozenset(
        Result.objects.annotate(failed_at=failed_at())
        .filter(failed_at__isnull=False, pk__in=[result.pk for result in results])
        .values_list("pk", flat=True)
    )


def _since_passed(check: ControlCheck) -> QuerySet[Result]:
    """The meter's readings since the last check that passed before this one. 1 query."""
    passed = ControlCheck.objects.filter(
        meter=check.meter_id, passed=True, checked_at__lt=check.checked_at
    ).aggregate(latest=Max("checked_at"))["latest"]
    results = Result.objects.filter(
        meter=check.meter_id, taken_at__lt=check.checked_at, corrected_by__isnull=True
    )
    return results if passed is None else results.filter(taken_at__gte=passed)


def readings_in_doubt(check: ControlCheck) -> list[Result]:
    """What a failed control check leaves unjudged on vessels that are not filled. 2 queries.

    Those are the meter's readings since its last check that passed.
    """
    if check.passed:
        return []
    found = _since_passed(check).filter(turnaround__closed_at__isnull=True)
    return list(found.select_related("point__vessel").order_by("pk"))


def filled_on_doubt(check: ControlCheck) -> list[Turnaround]:
    """Turnarounds whose beer still stands in the vessel, released on such readings. 2 queries.

    A point that was read again before the filling, under a check that holds, is in no doubt.
    """
    if check.passed:
        return []
    again = (
        Result.objects.filter(
            turnaround=OuterRef("turnaround"),
            point=OuterRef("point"),
            taken_at__gt=OuterRef("taken_at"),
            control_check__passed=True,
            corrected_by__isnull=True,
        )
        .annotate(failed_at=failed_at())
        .filter(failed_at__isnull=True)
    )
    found = _since_passed(check).filter(
        ~Exists(again),
        turnaround__closing_fill__emptying__isnull=True,
        turnaround__closed_at__isnull=False,
    )
    return list(
        Turnaround.objects.filter(pk__in=found.values("turnaround"))
        .select_related("vessel", "closing_fill__beer")
        .order_by("pk")
    )


def meters_that_work(day: date) -> list[Meter]:
    """The meters in use whose latest control check of a day passed. 1 query."""
    latest = ControlCheck.objects.filter(meter=OuterRef("pk"), checked_on=day).order_by(
        "-checked_at", "-pk"
    )
    return list(
        Meter.objects.filter(active=True)
        .annotate(passed_today=Subquery(latest.values("passed")[:1]))
        .filter(passed_today=True)
        .order_by("sort_key")
    )


CHECKS_SHOWN = 5


CHECKS_REACH = timedelta(days=30)


@dataclasses.dataclass(frozen=True)
class MeterCard:
    """One meter of the meters page."""

    meter: Meter
    checks: list[ControlCheck]
    last_result: Result | None
    limits: list[LimitSet]
    waiting: int
    unjudged: list[AtpTest]  # in stock, without any limits with this meter
    partly: list[AtpTest]  # in stock, with limits for single points only
    drifts: list[Drift]  # drifts of its control checks now
    today: date

    @property
    def check_today(self) -> ControlCheck | None:
        """The latest control check of the day."""
        return next((check for check in self.checks if check.checked_on == self.today), None)

    @property
    def state(self) -> str:
        """``passed``, ``failed`` or ``none`` for today's control check."""
        check = self.check_today
        if check is None:
            return "none"
        return "passed" if check.passed else "failed"


def meter_cards(*, now: datetime, today: date) -> list[MeterCard]:
    """Every meter in use with checks, last result, limits, drift. 6 queries, however many."""
    last = Result.objects.filter(meter=OuterRef("pk")).order_by("-taken_at").values("pk")[:1]
    meters = list(
        Meter.objects.filter(active=True)
        .annotate(last_result_pk=Subquery(last))
        .order_by("sort_key")
    )
    results = Result.objects.select_related("point__vessel").in_bulk(
        [meter.last_result_pk for meter in meters if meter.last_result_pk]
    )
    checks: dict[int, list[ControlCheck]] = {}
    for check in (
        ControlCheck.objects.filter(meter__active=True, checked_at__gte=now - CHECKS_REACH)
        .select_related("checked_by")
        .order_by("-checked_at", "-pk")
    ):
        checks.setdefault(check.meter_id, []).append(check)
    limits: dict[int, list[LimitSet]] = {}
    for limit_set in standing_limits().filter(meter__active=True):
        limits.setdefault(limit_set.meter_id, []).append(limit_set)
    in_stock = list(
        AtpTest.objects.filter(
            Exists(
                AtpTestLot.objects.filter(
                    atp_test=OuterRef("pk"), active=True, expires_on__gte=today
                )
            )
        ).order_by("sort_key")
    )
    charts = check_charts(meters, now=now)
    cards = []
    for meter in meters:
        own = limits.get(meter.pk, [])
        approved = [limit_set for limit_set in own if limit_set.approved_at is not None]
        in_force = [limit_set for limit_set in approved if not limit_set.run_out_on(today)]
        everywhere = {
            each.atp_test_id for each in in_force if each.point_id is None and not each.vessel_kind
        }
        somewhere = {each.atp_test_id for each in in_force}
        cards.append(
            MeterCard(
                meter=meter,
                checks=checks.get(meter.pk, [])[:CHECKS_SHOWN],
                last_result=results.get(meter.last_result_pk),
                limits=in_force,
                waiting=len(own) - len(approved),
                unjudged=[test for test in in_stock if test.pk not in somewhere],
                partly=[test for test in in_stock if test.pk in somewhere - everywhere],
                drifts=charts[meter.pk].drifts,
                today=today,
            )
        )
    return cards


def meters_for_setup() -> QuerySet[Meter]:
    """Every meter, those in use first, with ``results_count``. 1 query."""
    return Meter.objects.annotate(results_count=Count("results")).order_by("-active", "sort_key")


def atp_tests_with_lots() -> QuerySet[AtpTest]:
    """Every ATP test with its lots, in use and latest date first. 2 queries."""
    lots = AtpTestLot.objects.order_by("-active", "-expires_on", "sort_key")
    return AtpTest.objects.prefetch_related(Prefetch("lots", queryset=lots)).order_by("sort_key")

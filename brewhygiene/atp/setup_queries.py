"""What the pages of meters, sticks and limits read."""

import dataclasses
from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db.models import Count, Exists, F, OuterRef, Prefetch, QuerySet, Subquery

from brewhygiene.atp.meter_drift import Drift, check_charts
from brewhygiene.atp.models import ControlCheck, LimitSet, Meter, Result, StickLot, StickType
from brewhygiene.cellar.models import SamplingPoint

CHECKS_SHOWN = 5
CHECKS_REACH = timedelta(days=30)


@dataclasses.dataclass(frozen=True)
class MeterCard:
    """One meter as the meters page shows it."""

    meter: Meter
    checks: list[ControlCheck]
    last_result: Result | None
    limits: list[LimitSet]
    waiting: int
    unjudged: list[StickType]  # in hand, without any limits with this meter
    partly: list[StickType]  # in hand, with limits for single points only
    drifts: list[Drift]  # how its control checks drift now
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
        Meter.objects.filter(active=True).annotate(last_result_pk=Subquery(last)).order_by("name")
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
    in_hand = list(
        StickType.objects.filter(
            Exists(
                StickLot.objects.filter(
                    stick_type=OuterRef("pk"), active=True, expires_on__gte=today
                )
            )
        ).order_by("name")
    )
    charts = check_charts(meters, now=now)
    cards = []
    for meter in meters:
        own = limits.get(meter.pk, [])
        approved = [limit_set for limit_set in own if limit_set.approved_at is not None]
        in_force = [limit_set for limit_set in approved if not limit_set.run_out_on(today)]
        everywhere = {each.stick_type_id for each in in_force if each.point_id is None}
        somewhere = {each.stick_type_id for each in in_force}
        cards.append(
            MeterCard(
                meter=meter,
                checks=checks.get(meter.pk, [])[:CHECKS_SHOWN],
                last_result=results.get(meter.last_result_pk),
                limits=in_force,
                waiting=len(own) - len(approved),
                unjudged=[kind for kind in in_hand if kind.pk not in somewhere],
                partly=[kind for kind in in_hand if kind.pk in somewhere - everywhere],
                drifts=charts[meter.pk].drifts,
                today=today,
            )
        )
    return cards


def standing_limits() -> QuerySet[LimitSet]:
    """Limits in force or waiting for approval, with all that names them. 1 query."""
    return _named_limits().filter(retired_at__isnull=True)


def past_limits() -> QuerySet[LimitSet]:
    """Limits replaced or withdrawn, the latest first. 1 query."""
    return _named_limits().filter(retired_at__isnull=False).order_by("-retired_at", "-pk")


def _named_limits() -> QuerySet[LimitSet]:
    return LimitSet.objects.select_related(
        "meter", "stick_type", "point__vessel", "proposed_by", "approval"
    ).order_by("meter__name", "stick_type__name", F("point_id").asc(nulls_first=True), "pk")


def limits_replaced_by(limits: LimitSet) -> LimitSet | None:
    """The limits in force that approving these would retire. 1 query."""
    return (
        standing_limits()
        .filter(
            meter_id=limits.meter_id,
            stick_type_id=limits.stick_type_id,
            point_id=limits.point_id,
            approved_at__isnull=False,
        )
        .exclude(pk=limits.pk)
        .first()
    )


def limits_by_pk(pk: int) -> QuerySet[LimitSet]:
    return _named_limits().filter(pk=pk)


def meters_for_setup() -> QuerySet[Meter]:
    """Every meter, those in use first, with ``results_count``. 1 query."""
    return Meter.objects.annotate(results_count=Count("results")).order_by("-active", "name")


def stick_types_with_lots() -> QuerySet[StickType]:
    """Every kind of stick with its lots, in use and latest date first. 2 queries."""
    lots = StickLot.objects.order_by("-active", "-expires_on", "lot")
    return StickType.objects.prefetch_related(Prefetch("lots", queryset=lots)).order_by("name")


def points_to_choose() -> Sequence[SamplingPoint]:
    """Every sampling point in use with its vessel, by vessel. 1 query."""
    return list(
        SamplingPoint.objects.filter(active=True)
        .select_related("vessel")
        .order_by("vessel__order", "vessel__name", "order", "id")
    )

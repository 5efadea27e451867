"""Which limits are in force, and the reads of their pages."""

from collections.abc import Sequence
from datetime import date

from django.db.models import F, Q, QuerySet

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.cellar.moments import SamplingMoment


def limits_in_force(
    *, meter: Meter, test_lot: AtpTestLot, point: SamplingPoint, moment: str, day: date
) -> LimitSet | None:
    """The approved limits of a meter with an ATP test at a point, at a moment, on a day. 1 query.

    The point's own set takes precedence over the one for all points, and of either the one of
    the moment over one whose moment is not known. Limits of another moment, meter, test or
    sample kind are never used. A set is valid up to and including its last day. After
    that nothing judges, not even the set for all points, which may be looser.
    """
    found = (
        LimitSet.objects.filter(
            Q(point=point) | Q(point__isnull=True),
            moment__in=(moment, SamplingMoment.UNKNOWN),
            meter=meter,
            atp_test_id=test_lot.atp_test_id,
            sample_kind=point.sample_kind,
            approved_at__isnull=False,
            retired_at__isnull=True,
        )
        .annotate(moment_not_known=Q(moment=SamplingMoment.UNKNOWN))
        .order_by(F("point_id").asc(nulls_last=True), "moment_not_known")
        .first()
    )
    return None if found is None or found.run_out_on(day) else found


def standing_limits() -> QuerySet[LimitSet]:
    """Limits in force or waiting for approval, with all that names them. 1 query."""
    return _named_limits().filter(retired_at__isnull=True)


def past_limits() -> QuerySet[LimitSet]:
    """Limits replaced or retired, the latest first. 1 query."""
    return _named_limits().filter(retired_at__isnull=False).order_by("-retired_at", "-pk")


def _named_limits() -> QuerySet[LimitSet]:
    return LimitSet.objects.select_related(
        "meter", "atp_test", "point__vessel", "proposed_by", "approval"
    ).order_by("meter__name", "atp_test__name", F("point_id").asc(nulls_first=True), "pk")


def limits_replaced_by(limits: LimitSet) -> LimitSet | None:
    """The limits in force that approving these would retire. 1 query."""
    return (
        standing_limits()
        .filter(
            meter_id=limits.meter_id,
            atp_test_id=limits.atp_test_id,
            point_id=limits.point_id,
            moment=limits.moment,
            approved_at__isnull=False,
        )
        .exclude(pk=limits.pk)
        .first()
    )


def limits_by_pk(pk: int) -> QuerySet[LimitSet]:
    return _named_limits().filter(pk=pk)


def points_to_choose() -> Sequence[SamplingPoint]:
    """Every sampling point in use with its vessel, by vessel. 1 query."""
    return list(
        SamplingPoint.objects.filter(active=True)
        .select_related("vessel")
        .order_by("vessel__order", "vessel__name", "order", "id")
    )

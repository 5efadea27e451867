"""Which limits are in force, and the reads of their pages."""

from collections.abc import Sequence
from datetime import date

from django.db.models import F, Q, QuerySet, Subquery

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTestLot, Meter
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.people.models import User
from brewhygiene.people.queries import people_who_may


def _approved_for(point: SamplingPoint, *, moment: str) -> QuerySet[LimitSet]:
    """Approved limits that a point may be judged by at a moment, the narrowest first. 1 query.

    Its own, then those of its kind of vessel, then those for every kind; of each, those of the
    moment before those whose moment is not known.
    """
    own_kind = SamplingPoint.objects.filter(pk=point.pk).values("vessel__kind")
    return (
        LimitSet.objects.filter(
            Q(point=point)
            | Q(point__isnull=True) & (Q(vessel_kind="") | Q(vessel_kind=Subquery(own_kind))),
            moment__in=(moment, SamplingMoment.UNKNOWN),
            sample_kind=point.sample_kind,
            approved_at__isnull=False,
            retired_at__isnull=True,
        )
        .annotate(moment_not_known=Q(moment=SamplingMoment.UNKNOWN))
        .order_by(F("point_id").asc(nulls_last=True), "-vessel_kind", "moment_not_known", "pk")
    )


def limits_in_force(
    *, meter: Meter, test_lot: AtpTestLot, point: SamplingPoint, moment: str, day: date
) -> LimitSet | None:
    """The approved limits of a meter with an ATP test at a point, at a moment, on a day. 1 query.

    The narrower takes precedence: the point's own set, then the one for its kind of vessel, then
    the one for all points; of each, the one of the moment over one whose moment is not known.
    Limits of another moment, meter, test or sample kind are never used. A set is valid up to and
    including its last day. After that nothing judges, not even a wider set, which may be looser.
    """
    found = (
        _approved_for(point, moment=moment)
        .filter(meter=meter, atp_test_id=test_lot.atp_test_id)
        .first()
    )
    return None if found is None or found.run_out_on(day) else found


def limits_by_pair(
    point: SamplingPoint, *, moment: str, day: date
) -> dict[tuple[int, int], LimitSet]:
    """The limits in force at a point, a moment, a day, by meter and ATP test. 1 query.

    By the rule of :func:`limits_in_force`; the pairs are of primary keys.
    """
    narrowest: dict[tuple[int, int], LimitSet] = {}
    for limits in _approved_for(point, moment=moment):
        narrowest.setdefault((limits.meter_id, limits.atp_test_id), limits)
    return {pair: limits for pair, limits in narrowest.items() if not limits.run_out_on(day)}


def standing_limits() -> QuerySet[LimitSet]:
    """Limits in force or waiting for approval, with all that names them. 1 query."""
    return _named_limits().filter(retired_at__isnull=True)


def past_limits() -> QuerySet[LimitSet]:
    """Limits replaced or retired, the latest first. 1 query."""
    return _named_limits().filter(retired_at__isnull=False).order_by("-retired_at", "-pk")


def _named_limits() -> QuerySet[LimitSet]:
    return LimitSet.objects.select_related(
        "meter", "atp_test", "point__vessel", "proposed_by", "approval"
    ).order_by(
        "meter__sort_key",
        "atp_test__sort_key",
        F("point_id").asc(nulls_first=True),
        "vessel_kind",
        "pk",
    )


def limits_replaced_by(limits: LimitSet) -> LimitSet | None:
    """The limits in force that approving these would retire. 1 query."""
    return (
        standing_limits()
        .filter(
            meter_id=limits.meter_id,
            atp_test_id=limits.atp_test_id,
            point_id=limits.point_id,
            moment=limits.moment,
            vessel_kind=limits.vessel_kind,
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
        .order_by("vessel__order", "vessel__sort_key", "order", "id")
    )


def why_not_own_proposal(limits: LimitSet, *, user: User) -> str:
    """Why a person cannot approve limits that they proposed; '' where nobody else may.

    1 query for one's own proposal, none for another's.
    """
    if limits.proposed_by_id != user.pk:
        return ""
    others = people_who_may("approve_limits").exclude(pk=user.pk)
    names = " or ".join(str(other) for other in others)
    return (
        f"You proposed these limits. Another person has to approve them: {names}." if names else ""
    )

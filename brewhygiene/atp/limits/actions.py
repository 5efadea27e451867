"""Proposing, approving and retiring limits."""

from datetime import date

from brewhygiene.atp.limits.days import check_limit_days
from brewhygiene.atp.limits.queries import why_not_own_proposal
from brewhygiene.atp.limits.waiting import judge_waiting_results
from brewhygiene.atp.models.limits import LimitSet, LimitSource
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.rlu import check_rlu
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import SamplingPoint, VesselKind
from brewhygiene.cellar.moments import STATED_MOMENTS
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal

NO_MOMENT = "Choose when the samples are taken. These limits judge no other."


@action("propose limits")
def propose_limits(
    *,
    by: Actor,
    meter: Meter,
    atp_test: AtpTest,
    moment: str,
    alert_rlu: int,
    action_rlu: int,
    source: str,
    source_note: str,
    review_on: date,
    valid_until: date | None = None,
    point: SamplingPoint | None = None,
    vessel_kind: str = "",
) -> Recorded[LimitSet]:
    """Record limits, in RLU of this meter, that a head brewer must still approve.

    ``moment`` is when the samples are taken that they judge.
    """
    user = require(by, "approve_limits")
    if moment not in dict(STATED_MOMENTS):
        raise Refusal(NO_MOMENT, field="moment")
    check_rlu(alert_rlu, field="alert_rlu")
    check_rlu(action_rlu, field="action_rlu")
    if alert_rlu > action_rlu:
        raise Refusal("Enter an alert level at or below the action limit.", field="alert_rlu")
    if source not in LimitSource.values:
        raise Refusal("Choose a source.", field="source")
    if not source_note.strip():
        raise Refusal("Enter the source, e.g. a leaflet.", field="source_note")
    if point is not None and point.sample_kind != atp_test.sample_kind:
        raise Refusal(
            f"{point} is a {point.sample_kind} point, and {atp_test.name} is a {atp_test.kind}. "
            "Choose another point.",
            field="point",
        )
    if vessel_kind and vessel_kind not in VesselKind.values:
        raise Refusal("Choose a kind of vessel from the list.", field="vessel_kind")
    if vessel_kind and point is not None:
        raise Refusal(
            "These limits are for one sampling point. Choose the point or the kind of vessel, "
            "not both.",
            field="vessel_kind",
            code="point_and_kind",
        )
    check_limit_days(
        today=brewery_day(by.now, Brewery.current()), review_on=review_on, valid_until=valid_until
    )
    limits = LimitSet.objects.create(
        meter=meter,
        atp_test=atp_test,
        sample_kind=atp_test.sample_kind,
        point=point,
        moment=moment,
        vessel_kind=vessel_kind,
        alert_rlu=alert_rlu,
        action_rlu=action_rlu,
        source=source,
        source_note=source_note.strip(),
        proposed_at=by.now,
        proposed_by=user,
        review_on=review_on,
        valid_until=valid_until,
    )
    return Recorded(
        limits,
        {
            "meter": meter.name,
            "atp_test": atp_test.name,
            "point": str(point) if point else "all points",
            "moment": moment,
            **({"vessel_kind": vessel_kind} if vessel_kind else {}),
            "alert_rlu": alert_rlu,
            "action_rlu": action_rlu,
            "source": source,
            "source_note": limits.source_note,
            "review_on": review_on,
            "valid_until": valid_until,
        },
    )


def _refuse_own_proposal(*, by: Actor, limits: LimitSet) -> None:
    """Refuse that somebody approves what they proposed, where another person can. 1 query."""
    if why_not := why_not_own_proposal(limits, user=by.person):
        raise Refusal(why_not, field="password", code="own_proposal")


@action("approve limits")
def approve_limits(*, by: Actor, limits: LimitSet, password: str) -> Recorded[LimitSet]:
    """Sign proposed limits, which puts them in force and retires the earlier ones.

    Results judged by the earlier set keep their verdict; unjudged ones of open
    turnarounds get theirs from these.
    """
    require(by, "approve_limits")
    limits = LimitSet.objects.select_for_update(of=("self",)).get(pk=limits.pk)
    if limits.approved_at is not None:
        raise Refusal("These limits are already approved.", code="already_approved")
    if limits.retired_at is not None:
        raise Refusal("These limits are retired. Propose new limits.", code="retired")
    if limits.run_out_on(brewery_day(by.now, Brewery.current())):
        raise Refusal(
            "The last day of these limits is past. Propose new limits.",
            code="out_of_date",
        )
    _refuse_own_proposal(by=by, limits=limits)
    signature = sign(
        by=by,
        password=password,
        meaning=f"Approved limits {limits.alert_rlu}/{limits.action_rlu} RLU",
    )
    retired = LimitSet.objects.filter(
        meter_id=limits.meter_id,
        atp_test_id=limits.atp_test_id,
        sample_kind=limits.sample_kind,
        point_id=limits.point_id,
        moment=limits.moment,
        vessel_kind=limits.vessel_kind,
        approved_at__isnull=False,
        retired_at__isnull=True,
    )
    retired_ids = list(retired.values_list("pk", flat=True))
    retired.update(retired_at=by.now)
    limits.approved_at = by.now
    limits.approval = signature
    limits.save(update_fields=["approved_at", "approval"])
    judged = judge_waiting_results(by=by, limits=limits)
    return Recorded(
        limits,
        {
            "limits": str(limits),
            "retired": retired_ids,
            "judged": [
                {"result": r.corrects_id, "by_result": r.pk, "rlu": r.rlu, "verdict": r.verdict}
                for r in judged
            ],
        },
    )


@action("retire limits")
def retire_limits(*, by: Actor, limits: LimitSet, password: str) -> Recorded[LimitSet]:
    """Take limits out of force; from then on readings under them are unjudged."""
    require(by, "approve_limits")
    limits = LimitSet.objects.select_for_update(of=("self",)).get(pk=limits.pk)
    if limits.retired_at is not None:
        raise Refusal("These limits are already retired.", code="retired")
    sign(by=by, password=password, meaning=f"Retired limits {limits}"[:200])
    limits.retired_at = by.now
    limits.save(update_fields=["retired_at"])
    return Recorded(limits, {"limits": str(limits)})

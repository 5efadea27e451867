"""The action that restarts a point's control chart."""

from datetime import datetime

from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.atp.models.readings import Result, standing_results
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.science.control.individuals import LEAST_FOR_LIMITS


@action("restart control chart")
def begin_phase(
    *,
    by: Actor,
    point: SamplingPoint,
    meter: Meter,
    atp_test: AtpTest,
    begins_at: datetime,
    baseline_until: datetime,
    reason: str,
) -> Recorded[ChartPhase]:
    """Judge later readings of a point by a baseline that begins at a moment."""
    user = require(by, "approve_limits")
    if not reason.strip():
        raise Refusal("Enter a reason.", field="reason")
    if begins_at > by.now:
        raise Refusal("Enter a start up to now.", field="begins_at")
    if baseline_until <= begins_at:
        raise Refusal("Enter an end after the start.", field="baseline_until")
    if ChartPhase.objects.filter(
        point=point, meter=meter, atp_test=atp_test, begins_at=begins_at
    ).exists():
        raise Refusal(
            "The chart already restarts at this time. Enter another time.", field="begins_at"
        )
    # On the scale itself; readings converted by a bridge come on top.
    counted = (
        standing_results(
            Result.objects.filter(
                point=point,
                meter=meter,
                test_lot__atp_test=atp_test,
                taken_at__gte=begins_at,
                taken_at__lte=baseline_until,
            )
        )
        .values("clean_id")
        .distinct()
        .count()
    )
    if baseline_until <= by.now and counted < LEAST_FOR_LIMITS:
        raise Refusal(
            f"The baseline contains only {counted} cleans, and control limits need "
            f"{LEAST_FOR_LIMITS}. Enter a later end.",
            field="baseline_until",
        )
    phase = ChartPhase.objects.create(
        point=point,
        meter=meter,
        atp_test=atp_test,
        begins_at=begins_at,
        baseline_until=baseline_until,
        reason=reason.strip()[:200],
        made_at=by.now,
        made_by=user,
    )
    return Recorded(
        phase,
        {
            "point": str(point),
            "meter": meter.name,
            "atp_test": atp_test.name,
            "begins_at": begins_at,
            "baseline_until": baseline_until,
            "reason": phase.reason,
        },
        aggregate=point.vessel,
    )

"""Verdicts of unjudged readings once limits are approved."""

from brewhygiene.atp.limits.queries import limits_in_force
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result, Verdict, standing_results
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.ledger.recording import Actor
from brewhygiene.science.judging import judge_rlu
from brewhygiene.turnarounds.actions import raise_revision

WHY = "Judged by limits approved later"


def judge_waiting_results(*, by: Actor, limits: LimitSet) -> list[Result]:
    """Give the unjudged readings of open turnarounds a verdict by limits just approved.

    Each gets a new result that names it, with the same number; both are kept. The ledger entry of
    the approval covers it. 2 queries, and 4 for each reading judged.
    """
    waiting = standing_results(
        Result.objects.filter(
            turnaround__closed_at__isnull=True,
            verdict=Verdict.UNJUDGED,
            meter=limits.meter_id,
            test_lot__atp_test=limits.atp_test_id,
            point__sample_kind=limits.sample_kind,
        )
    ).select_related("point__vessel", "meter", "test_lot", "turnaround")
    brewery = Brewery.current()
    judged = []
    for result in waiting.order_by("pk"):
        found = limits_in_force(
            meter=result.meter,
            test_lot=result.test_lot,
            point=result.point,
            moment=result.moment,
            day=brewery_day(result.taken_at, brewery),
        )
        if found is None:
            continue
        successor = result.successor(
            correction_reason=WHY,
            limits=found,
            verdict=judge_rlu(
                rlu=result.rlu, alert_rlu=found.alert_rlu, action_rlu=found.action_rlu
            ),
            recorded_at=by.now,
            client_time=by.client_time,
        )
        successor.save()
        judged.append(successor)
        raise_revision(result.turnaround)
    return judged

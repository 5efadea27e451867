"""Readings that are judged or corrected later: each by a new one that names the old."""

from typing import Any

from brewhygiene.atp.models import LimitSet, Result, Verdict
from brewhygiene.atp.queries import brewery_day, limits_in_force, standing_results
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.door import Actor
from brewhygiene.science.judging import judge_rlu
from brewhygiene.turnarounds.actions import raise_revision

WHY = "Judged by limits that were approved after it was read"
# What belongs to one record and is never taken over by the one that follows it.
OF_ONE_RECORD = frozenset({"id", "client_time", "correction_signature"})


def write_successor(result: Result, *, by: Actor, reason: str, **changes: Any) -> Result:
    """A new result that corrects another one and is like it in all but ``changes``. 1 query.

    Recorded now, and by whoever recorded the other one unless ``changes`` says otherwise. Part
    of actions.
    """
    kept = {
        field.attname: getattr(result, field.attname)
        for field in Result._meta.concrete_fields
        if field.name not in OF_ONE_RECORD
    }
    successor = Result(
        **{**kept, "recorded_at": by.now, "client_time": by.client_time},
    )
    for name, value in {**changes, "corrects": result, "correction_reason": reason}.items():
        setattr(successor, name, value)
    successor.save(force_insert=True)
    return successor


def judge_waiting_results(*, by: Actor, limits: LimitSet) -> list[Result]:
    """Give the unjudged readings of open turnarounds a verdict by limits just approved.

    Each gets a new result that names it, with the same number; both stay. Part of the verb that
    approves limits, whose ledger entry covers it. 2 queries, and 4 for each reading judged.
    """
    waiting = standing_results(
        Result.objects.filter(
            turnaround__closed_at__isnull=True,
            verdict=Verdict.UNJUDGED,
            meter=limits.meter_id,
            stick_lot__stick_type=limits.stick_type_id,
            point__sample_kind=limits.sample_kind,
        )
    ).select_related("point__vessel", "meter", "stick_lot", "turnaround")
    brewery = Brewery.current()
    judged = []
    for result in waiting.order_by("pk"):
        found = limits_in_force(
            meter=result.meter,
            stick_lot=result.stick_lot,
            point=result.point,
            day=brewery_day(result.taken_at, brewery),
        )
        if found is None:
            continue
        judged.append(
            write_successor(
                result,
                by=by,
                reason=WHY,
                limits=found,
                verdict=judge_rlu(
                    rlu=result.rlu, alert_rlu=found.alert_rlu, action_rlu=found.action_rlu
                ),
            )
        )
        raise_revision(result.turnaround)
    return judged

"""What turnarounds answer to the rooms below them."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

from django.db.models import OuterRef, Q, QuerySet

from brewhygiene.regimes.models import Quantity, RegimeVersion
from brewhygiene.regimes.questions import cleans_by
from brewhygiene.skids.models import Skid, Solution
from brewhygiene.skids.questions import Carried, StrengthRead, Use, carried_by_gear, uses_of
from brewhygiene.turnarounds.models import Clean, Outflow, StepRecord
from brewhygiene.turnarounds.models.deviations import DeviationKind
from brewhygiene.turnarounds.progress import standing_readings
from brewhygiene.turnarounds.quantities import TITRATION
from brewhygiene.turnarounds.residues.gear import carried_by


@cleans_by.answered_by
def cleans_by_version(version: RegimeVersion | OuterRef) -> QuerySet[Clean]:
    """Running and stopped cleans too."""
    return Clean.objects.filter(version=version)


@carried_by_gear.answered_by
def still_carried(gear: Collection[Skid]) -> Mapping[int, Sequence[Carried]]:
    """2 queries."""
    return carried_by(gear)


def _strengths(record: StepRecord) -> list[StrengthRead]:
    return [
        StrengthRead(
            value=reading.value,
            basis=reading.basis,
            titrated=(reading.titration or {}).get("method") == TITRATION,
            source=reading.source,
            at=reading.taken_at,
        )
        for reading in standing_readings(record)
        if reading.quantity == Quantity.CONCENTRATION
    ]


def _use(record: StepRecord, *, drew: bool) -> Use:
    """A step as the solution's history tells it; reads prefetched rows."""
    must_go = [one for one in record.deviations.all() if one.kind == DeviationKind.RETURNED]
    added = [one.added["kg"] for one in record.deviations.all() if one.added] if drew else []
    return Use(
        clean=record.clean_id,
        step=record.step_id,
        vessel=record.clean.turnaround.vessel.name,
        step_words=str(record.step),
        started_at=record.started_at,
        ended_at=record.ended_at,
        by=str(record.started_by),
        outflow=record.get_outflow_display() if record.outflow else "",
        returned=record.outflow == Outflow.RETURNED,
        counts=record.extends_id is None,
        carries=must_go[0].description if must_go else "",
        drew=drew,
        reason=record.solution_reason,
        strengths=_strengths(record) if drew else (),
        added_kg=sum(added),
    )


def _took_back(solution: Solution, record: StepRecord) -> bool:
    """Whether what a step gave back, from no tank on record, may be in a solution.

    An agent's went to a tank of that agent; water may have gone to any of the skid's.
    """
    agent = record.step.agent_id
    return (
        solution.tank.skid_id == record.skid_id
        and (agent is None or agent == solution.agent_id)
        and record.ended_at is not None
        and record.ended_at >= solution.made_at
        and (solution.dumped_at is None or record.ended_at <= solution.dumped_at)
    )


@uses_of.answered_by
def uses_by_solution(solutions: Collection[Solution]) -> Mapping[int, Sequence[Use]]:
    """Steps that drew from each, and steps that gave back to its skid what must be dumped."""
    keys = {one.pk for one in solutions}
    found: dict[int, list[Use]] = defaultdict(list)
    records = (
        StepRecord.objects.filter(left_out=False)
        .filter(
            Q(solution__in=keys)
            | Q(
                solution__isnull=True,
                skid__in={one.tank.skid_id for one in solutions},
                outflow=Outflow.RETURNED,
                ended_at__gte=min(one.made_at for one in solutions),
            )
        )
        .select_related("step", "clean__turnaround__vessel", "started_by")
        .prefetch_related("readings", "deviations")
        .order_by("pk")
    )
    for record in records:
        if record.solution_id is not None:
            found[record.solution_id].append(_use(record, drew=True))
            continue
        for one in solutions:
            if _took_back(one, record):
                found[one.pk].append(_use(record, drew=False))
    return found

"""Reads of turnarounds that more than one caller needs."""

from django.db.models import Prefetch, QuerySet

from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.models import Step, StepKind
from brewhygiene.regimes.proposal import Proposal, asks_of, propose, reminders_of
from brewhygiene.regimes.queries import current_versions
from brewhygiene.turnarounds.models import (
    Clean,
    CleanPurpose,
    Deviation,
    SafetyAcknowledgement,
    StepReading,
    StepRecord,
    Turnaround,
)


def cleans_with_records() -> QuerySet[Clean]:
    """Cleans with version, steps, windows, records, readings and deviations. 8 queries."""
    steps = Step.objects.select_related("agent").prefetch_related("windows")
    records = StepRecord.objects.select_related(
        "started_by", "ended_by", "extends"
    ).prefetch_related(
        Prefetch("readings", queryset=StepReading.objects.select_related("taken_by")),
        Prefetch("deviations", queryset=Deviation.objects.select_related("disposed_by")),
    )
    return Clean.objects.select_related(
        "turnaround__vessel", "version__regime", "started_by", "finished_by"
    ).prefetch_related(
        Prefetch("version__steps", queryset=steps),
        Prefetch("step_records", queryset=records),
        Prefetch("acknowledgements", queryset=SafetyAcknowledgement.objects.select_related("user")),
    )


def running_clean(turnaround: Turnaround) -> Clean | None:
    """The clean that is on, with its records. At most 8 queries."""
    return (
        cleans_with_records()
        .filter(turnaround=turnaround, finished_at__isnull=True, stopped_at__isnull=True)
        .first()
    )


def cleans_since(vessel: Vessel, kind: StepKind) -> int:
    """Finished cleans of a vessel since the last one that ran a step of ``kind``. 2 queries.

    A step that was left out did not run.
    """
    finished = Clean.objects.filter(
        turnaround__vessel=vessel, purpose=CleanPurpose.CLEAN, finished_at__isnull=False
    )
    last = (
        finished.filter(
            pk__in=StepRecord.objects.filter(
                step__kind=kind, left_out=False, ended_at__isnull=False
            ).values("clean")
        )
        .order_by("-finished_at")
        .values_list("finished_at", flat=True)
        .first()
    )
    return (finished.filter(finished_at__gt=last) if last else finished).count()


def proposal_for(turnaround: Turnaround) -> Proposal:
    """The regime that a turnaround needs, with the reasons. 7 queries.

    ``turnaround`` with vessel, emptying, its beer and the next beer loaded.
    """
    vessel = turnaround.vessel
    last_beer, next_beer = turnaround.emptying.beer, turnaround.next_beer
    return propose(
        vessel=vessel,
        asks=asks_of(
            vessel=vessel,
            last_beer=last_beer,
            next_beer=next_beer,
            cleans_since_acid=cleans_since(vessel, StepKind.ACID),
            cleans_since_caustic=cleans_since(vessel, StepKind.CAUSTIC),
        ),
        candidates=current_versions(),
        reminders=reminders_of(last_beer=last_beer, next_beer=next_beer),
    )

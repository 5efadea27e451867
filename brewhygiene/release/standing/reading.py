"""Reads of what a vessel's status follows from: the facts of open turnarounds."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from django.db.models import Exists, Max, OuterRef, QuerySet, Subquery

from brewhygiene.atp.meters.queries import failed_at
from brewhygiene.atp.models.readings import Result
from brewhygiene.cellar.allergens import words_of
from brewhygiene.cellar.models import Vessel
from brewhygiene.changeovers.models import AllergenTest, Finding
from brewhygiene.release.models import Decision, DecisionKind
from brewhygiene.release.standing.facts import (
    AllergenFound,
    CleanFacts,
    DecisionFacts,
    ResultFacts,
    TurnaroundFacts,
)
from brewhygiene.release.standing.paper import PaperRelease
from brewhygiene.turnarounds.models import Clean, CleanPurpose, Turnaround, VesselOpening
from brewhygiene.turnarounds.models.deviations import Deviation, Disposition
from brewhygiene.turnarounds.models.entries import EntryPermit
from brewhygiene.turnarounds.models.starts import start_of
from brewhygiene.turnarounds.residues import left_inside


def open_turnarounds(vessels: QuerySet[Vessel]) -> dict[int, Turnaround]:
    last_opening = (
        VesselOpening.objects.filter(turnaround=OuterRef("pk"))
        .order_by()
        .values("turnaround")
        .annotate(latest=Max("opened_at"))
        .values("latest")
    )
    permit = EntryPermit.objects.filter(
        turnaround=OuterRef("pk"), closed_at__isnull=True
    ).order_by()
    positive = AllergenTest.objects.filter(
        clean__turnaround=OuterRef("pk"), result=Finding.POSITIVE
    )
    found = (
        Turnaround.objects.filter(closed_at__isnull=True, vessel__in=vessels.values("pk"))
        .select_related("emptying__beer", "emptying__fill", "next_beer", "start")
        .annotate(
            last_opening=Subquery(last_opening),
            allergen_positive=Exists(positive),
            entered_since=Subquery(permit.values("opened_at")[:1]),
            entrants=Subquery(permit.values("entrants")[:1]),
        )
    )
    return {turnaround.vessel_id: turnaround for turnaround in found}


def turnaround_facts(turnarounds: Iterable[Turnaround]) -> dict[int, TurnaroundFacts]:
    """Facts by turnaround. 3 queries, whatever the number of turnarounds.

    3 more where the last clean of one was stopped, for what that left in the vessel, and 1 where
    an allergen test was positive.
    """
    by_pk = {turnaround.pk: turnaround for turnaround in turnarounds}
    # Plain rows: the board makes some thousand of them, and a model each would take its time.
    cleans: dict[int, list[CleanFacts]] = defaultdict(list)
    accepted = Deviation.objects.filter(
        record__clean=OuterRef("pk"), disposition=Disposition.ACCEPT
    )
    for turnaround_pk, pk, purpose, regime, started_at, *times, is_accepted in (
        Clean.objects.filter(turnaround__in=by_pk)
        .annotate(accepted=Exists(accepted))
        .order_by("pk")
        .values_list(
            "turnaround_id",
            "pk",
            "purpose",
            "version__regime__name",
            "started_at",
            "finished_at",
            "sanitised_at",
            "stopped_at",
            "accepted",
        )
    ):
        finished_at, sanitised_at, stopped_at = times
        cleans[turnaround_pk].append(
            CleanFacts(
                pk=pk,
                is_clean=purpose == CleanPurpose.CLEAN,
                regime=regime,
                started_at=started_at,
                finished_at=finished_at,
                sanitised_at=sanitised_at,
                stopped_at=stopped_at,
                before_filling=purpose == CleanPurpose.BEFORE_FILLING,
                accepted=is_accepted,
            )
        )
    results: dict[int, list[ResultFacts]] = defaultdict(list)
    for turnaround_pk, *values in (
        Result.objects.filter(turnaround__in=by_pk, corrected_by__isnull=True)
        .annotate(failed_at=failed_at())
        .order_by("pk")
        .values_list(
            "turnaround_id",
            "clean_id",
            "point_id",
            "point__name",
            "verdict",
            "rlu",
            "recorded_at",
            "failed_at",
            "meter__name",
        )
    ):
        results[turnaround_pk].append(ResultFacts(*values))
    decisions: dict[int, list[DecisionFacts]] = defaultdict(list)
    for turnaround_pk, clean_pk, outcome, decided_at, by, second, kind, reason, lapses_at in (
        Decision.objects.filter(turnaround__in=by_pk)
        .order_by("pk")
        .values_list(
            "turnaround_id",
            "clean_id",
            "outcome",
            "decided_at",
            "signature__printed_name",
            "second_signature__printed_name",
            "kind",
            "reason",
            "lapses_at",
        )
    ):
        signers = f"{by} and {second}" if second else by
        if kind != DecisionKind.USUAL:
            signers += f": {DecisionKind(kind).label}"
        decisions[turnaround_pk].append(
            DecisionFacts(
                clean_pk,
                outcome,
                decided_at,
                signers,
                reason,
                lapses_at,
                by_meter=kind != DecisionKind.WITHOUT_METER,
            )
        )
    positive = _allergens_found(
        turnaround
        for turnaround in by_pk.values()
        if getattr(turnaround, "allergen_positive", False)
    )
    inside = left_inside(pk for pk, ran in cleans.items() if ran[-1].stopped_at is not None)
    return {
        pk: TurnaroundFacts(
            pk=pk,
            emptied_at=turnaround.opened_at,
            cleans=cleans[pk],
            results=results[pk],
            decisions=decisions[pk],
            openings=[opening]
            if (opening := getattr(turnaround, "last_opening", None)) is not None
            else [],
            inside=inside.get(pk, ""),
            entered_since=getattr(turnaround, "entered_since", None),
            entrants=getattr(turnaround, "entrants", None) or "",
            allergen_found=positive.get(pk),
            **_started(turnaround),
        )
        for pk, turnaround in by_pk.items()
    }


def _allergens_found(turnarounds: Iterable[Turnaround]) -> dict[int, AllergenFound]:
    """By turnaround the latest clean's positive test that the next beer has to do with.

    One whose next beer is not known asks when it is filled. 1 query where there are any.
    """
    by_pk = {turnaround.pk: turnaround for turnaround in turnarounds}
    found: dict[int, AllergenFound] = {}
    if not by_pk:
        return found
    for pk, clean_pk, allergen, recorded_at in (
        AllergenTest.objects.filter(clean__turnaround__in=by_pk, result=Finding.POSITIVE)
        .order_by("clean", "-recorded_at", "-pk")
        .values_list("clean__turnaround", "clean", "allergen", "recorded_at")
    ):
        beer = by_pk[pk].next_beer
        if beer is not None and allergen not in beer.allergens:
            found[pk] = AllergenFound(clean_pk, words_of([allergen]), recorded_at)
    return found


def _started(turnaround: Turnaround) -> dict[str, Any]:
    """What is known of a turnaround that began before this record. ``start`` is joined."""
    start = start_of(turnaround)
    if start is None:
        return {}
    paper = None
    if start.on_paper and start.released_at is not None:
        paper = PaperRelease(start.released_at, start.paper_signer)
    return {"emptied_before_record": True, "paper": paper}

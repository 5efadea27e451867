"""A vessel's past: its turnarounds, the last reading at each point, what has been in it."""

import dataclasses

from django.db.models import F, OuterRef, Prefetch, QuerySet, Subquery

from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.cellar.models import Fill, SamplingPoint, Vessel
from brewhygiene.plates.models import Plate
from brewhygiene.quantities.words import counted
from brewhygiene.release.models import Decision, DecisionKind
from brewhygiene.turnarounds.models import Clean, CleanPurpose, Turnaround
from brewhygiene.turnarounds.models.starts import VesselStart, start_of

# From the verdict that asks for nothing to the one that asks for most.
SEVERITY = (Verdict.CLEAR, Verdict.ALERT, Verdict.UNJUDGED, Verdict.ACTION)


@dataclasses.dataclass(frozen=True)
class Past:
    """One turnaround in a line: how it went, and how it ended."""

    turnaround: Turnaround
    cleans: int
    resanitises: int
    stopped: int
    worst: str
    decision: Decision | None
    self_released: bool
    by_two: str  # what two people signed here, in words, or ''
    fill: Fill | None
    start: VesselStart | None = None

    @property
    def cleans_words(self) -> str:
        """As '1 clean, re-sanitised twice, 1 stopped'."""
        words = [counted(self.cleans, "clean")]
        if self.resanitises:
            times = {1: "once", 2: "twice"}.get(self.resanitises, f"{self.resanitises} times")
            words.append(f"re-sanitised {times}")
        if self.stopped:
            words.append(f"{self.stopped} stopped")
        return ", ".join(words)


def turnarounds_for_history(vessel: Vessel) -> QuerySet[Turnaround]:
    """A vessel's turnarounds, the latest first, with what their lines say. 4 queries."""
    cleans = Clean.objects.only("turnaround_id", "purpose", "finished_at", "stopped_at")
    standing = Result.objects.filter(corrected_by__isnull=True).only("turnaround_id", "verdict")
    return (
        Turnaround.objects.filter(vessel=vessel)
        .select_related("closing_fill__beer", "start")
        .prefetch_related(
            Prefetch("cleans", queryset=cleans),
            Prefetch("results", queryset=standing),
            Prefetch("decisions", queryset=Decision.objects.select_related("signature")),
        )
    )


def past_of(turnaround: Turnaround) -> Past:
    """One line of the history; reads what ``turnarounds_for_history`` loaded."""
    cleans = list(turnaround.cleans.all())
    finished = [clean for clean in cleans if clean.finished_at is not None]
    full = sum(clean.purpose == CleanPurpose.CLEAN for clean in finished)
    decisions = list(turnaround.decisions.all())
    return Past(
        turnaround=turnaround,
        cleans=full,
        resanitises=len(finished) - full,
        stopped=sum(clean.stopped_at is not None for clean in cleans),
        worst=max(
            (result.verdict for result in turnaround.results.all()),
            key=lambda verdict: SEVERITY.index(Verdict(verdict)),
            default="",
        ),
        decision=decisions[-1] if decisions else None,
        self_released=any(decision.self_release for decision in decisions),
        by_two=next(
            (d.get_kind_display() for d in decisions[::-1] if d.kind != DecisionKind.USUAL), ""
        ),
        fill=turnaround.closing_fill,
        start=start_of(turnaround),
    )


@dataclasses.dataclass(frozen=True)
class PointNow:
    """A sampling point with its latest standing reading."""

    point: SamplingPoint
    last: Result | None


def points_with_last_result(vessel: Vessel) -> list[PointNow]:
    """A vessel's points in use, each with its latest reading that stands. 2 queries."""
    latest = (
        Result.objects.filter(point=OuterRef("pk"), corrected_by__isnull=True)
        .order_by("-taken_at", "-pk")
        .values("pk")[:1]
    )
    points = list(vessel.points.filter(active=True).annotate(last_pk=Subquery(latest)))
    results = Result.objects.select_related("meter").in_bulk(
        [point.last_pk for point in points if point.last_pk]
    )
    return [PointNow(point, results.get(point.last_pk)) for point in points]


def fills_for_history(vessel: Vessel) -> QuerySet[Fill]:
    """What has been in a vessel, the latest first, with when it was emptied. 1 query."""
    return (
        Fill.objects.filter(vessel=vessel)
        .select_related("beer", "without_release_signature", "turnaround__start", "of_batch__batch")
        .annotate(emptied_at=F("emptying__emptied_at"))
    )


def plates_for_history(vessel: Vessel) -> QuerySet[Plate]:
    """A vessel's plates, the latest first. 1 query."""
    return Plate.objects.filter(vessel=vessel).select_related("point").order_by("-taken_at", "-pk")

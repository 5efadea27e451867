"""What happened in the turnarounds of a period, as plain rows: one query each."""

import dataclasses
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from brewhygiene.atp.models.readings import Result, Verdict
from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.release.models import Decision, Outcome
from brewhygiene.turnarounds.models import (
    Clean,
    CleanPurpose,
    StepRecord,
    Turnaround,
    VesselOpening,
)
from brewhygiene.turnarounds.models.deviations import Deviation


def opened_within(
    path: str = "turnaround__", *, since: datetime, until: datetime, vessel: Vessel | None = None
) -> Q:
    """What hangs on turnarounds opened in a period; ``path`` is the way up to them."""
    within = Q(**{f"{path}opened_at__gte": since, f"{path}opened_at__lt": until})
    return within if vessel is None else within & Q(**{f"{path}vessel": vessel})


class AgentLot(NamedTuple):
    """A lot of an agent, as it was recorded at a step."""

    agent: str
    lot: str

    def __str__(self) -> str:
        return f"{self.agent}, lot {self.lot}"


@dataclasses.dataclass(frozen=True, slots=True)
class Turn:
    pk: int
    vessel_id: int
    vessel_name: str
    opened_at: datetime
    closed_at: datetime | None
    beer_before: str | None
    sour_or_mixed: bool | None
    diastatic: bool | None
    fruit_or_heavy_hops: bool | None
    without_release: bool | None
    began_before_record: int | None


def turnarounds_opened(*, since: datetime, until: datetime, vessel: Vessel | None) -> list[Turn]:
    found = Turnaround.objects.filter(opened_within("", since=since, until=until, vessel=vessel))
    return [
        Turn(*row)
        for row in found.order_by("opened_at", "pk").values_list(
            "pk",
            "vessel_id",
            "vessel__name",
            "opened_at",
            "closed_at",
            "emptying__beer__name",
            "emptying__beer__sour_or_mixed",
            "emptying__beer__diastatic",
            "emptying__beer__fruit_or_heavy_hops",
            "closing_fill__without_release",
            "start__pk",
        )
    ]


@dataclasses.dataclass(frozen=True, slots=True)
class CleanRun:
    pk: int
    full: bool
    started_at: datetime
    finished_at: datetime | None
    stopped: bool
    regime: str
    version: int
    started_by: int
    finished_by: int | None


def cleans_run(within: Q) -> dict[int, list[CleanRun]]:
    """Cleans and re-sanitises by turnaround, in the order in which they were begun."""
    found: dict[int, list[CleanRun]] = defaultdict(list)
    for turn, pk, purpose, started, finished, stopped, regime, version, by, ended_by in (
        Clean.objects.filter(within)
        .order_by("pk")
        .values_list(
            "turnaround_id",
            "pk",
            "purpose",
            "started_at",
            "finished_at",
            "stopped_at",
            "version__regime__name",
            "version__number",
            "started_by_id",
            "finished_by_id",
        )
    ):
        full = purpose == CleanPurpose.CLEAN
        found[turn].append(
            CleanRun(
                pk, full, started, finished, stopped is not None, regime, version, by, ended_by
            )
        )
    return found


@dataclasses.dataclass(frozen=True, slots=True)
class FirstReadings:
    """First readings after a clean: points that a release asks for, of those without a verdict,
    and those over the action limit at any point."""

    asked_for: int
    unjudged: int
    over: int


NONE_READ = FirstReadings(0, 0, 0)
_ASKED_FOR = Q(point__required_for_release=True, point__active=True)


def first_readings() -> QuerySet[Result]:
    """Standing results that are no retest: the first at their point after their clean."""
    # By an expression: nearly all are none, and SQLite would go through them all by its index.
    return Result.objects.alias(retested=Coalesce("retest_of_id", Value(0))).filter(
        retested=0, corrected_by__isnull=True
    )


def first_readings_by_clean(within: Q) -> dict[int, FirstReadings]:
    """By clean. The database counts, since a year has a hundred thousand readings."""
    return {
        clean: FirstReadings(asked_for, unjudged, over)
        for clean, asked_for, unjudged, over in first_readings()
        .filter(within)
        .order_by()
        .values_list("clean")
        .annotate(
            asked_for=Count("pk", filter=_ASKED_FOR),
            unjudged=Count("pk", filter=_ASKED_FOR & Q(verdict=Verdict.UNJUDGED)),
            over=Count("pk", filter=Q(verdict=Verdict.ACTION)),
        )
    }


@dataclasses.dataclass(frozen=True, slots=True)
class FirstReading:
    clean: int
    point: int
    verdict: str
    asked_for: bool


def first_readings_with_resanitises(within: Q) -> dict[int, list[FirstReading]]:
    """By turnaround, oldest first, for the few with a re-sanitise.

    There, the first reading at a point may come after the re-sanitise.
    """
    again = (
        Clean.objects.filter(within, purpose=CleanPurpose.RESANITISE)
        .order_by()
        .values("turnaround")
    )
    found: dict[int, list[FirstReading]] = defaultdict(list)
    for turn, clean, point, verdict, required, active in (
        first_readings()
        .filter(turnaround__in=again)
        .order_by("clean_id", "taken_at", "pk")
        .values_list(
            "turnaround_id",
            "clean_id",
            "point_id",
            "verdict",
            "point__required_for_release",
            "point__active",
        )
    ):
        found[turn].append(FirstReading(clean, point, verdict, required and active))
    return found


def counted(readings: Iterable[FirstReading]) -> FirstReadings:
    """The first reading at each point of those given, oldest first."""
    first: dict[int, FirstReading] = {}
    for reading in readings:
        first.setdefault(reading.point, reading)
    return FirstReadings(
        asked_for=sum(r.asked_for for r in first.values()),
        unjudged=sum(r.asked_for and r.verdict == Verdict.UNJUDGED for r in first.values()),
        over=sum(r.verdict == Verdict.ACTION for r in first.values()),
    )


class PointsAskedFor:
    """How many points a release asked for, by vessel and time."""

    def __init__(self, first_read: Mapping[int, Sequence[datetime]], never_read: Mapping[int, int]):
        self._first_read = first_read
        self._never_read = never_read

    def at(self, turn: Turn) -> int:
        """All of them while it is open; once it is closed, those that had ever been read."""
        first_read = self._first_read.get(turn.vessel_id, ())
        if turn.closed_at is None:
            return len(first_read) + self._never_read.get(turn.vessel_id, 0)
        return bisect_right(first_read, turn.closed_at)


def points_asked_for(vessel: Vessel | None) -> PointsAskedFor:
    points = SamplingPoint.objects.filter(required_for_release=True, active=True)
    if vessel is not None:
        points = points.filter(vessel=vessel)
    first = Result.objects.filter(point=OuterRef("pk")).order_by("taken_at").values("taken_at")[:1]
    first_read: dict[int, list[datetime]] = defaultdict(list)
    never_read: dict[int, int] = defaultdict(int)
    for vessel_id, moment in points.order_by().values_list("vessel_id", Subquery(first)):
        if moment is None:
            never_read[vessel_id] += 1
        else:
            first_read[vessel_id].append(moment)
    return PointsAskedFor(
        {vessel_id: sorted(moments) for vessel_id, moments in first_read.items()}, never_read
    )


@dataclasses.dataclass(frozen=True, slots=True)
class Release:
    decided_at: datetime
    lapses_at: datetime
    by: int
    self_release: bool


def releases_signed(within: Q) -> dict[int, list[Release]]:
    """Releases by turnaround, oldest first."""
    found: dict[int, list[Release]] = defaultdict(list)
    for turn, decided_at, lapses_at, by, self_release in (
        Decision.objects.filter(within, outcome=Outcome.RELEASE)
        .order_by("pk")
        .values_list(
            "turnaround_id", "decided_at", "lapses_at", "signature__user_id", "self_release"
        )
    ):
        assert lapses_at is not None  # the table has no release without
        found[turn].append(Release(decided_at, lapses_at, by, self_release))
    return found


def openings_made(within: Q) -> dict[int, list[datetime]]:
    found: dict[int, list[datetime]] = defaultdict(list)
    for turn, moment in VesselOpening.objects.filter(within).values_list(
        "turnaround_id", "opened_at"
    ):
        found[turn].append(moment)
    return found


def lots_used(within: Q) -> dict[int, list[AgentLot]]:
    """Lots by clean, in the order of the steps."""
    found: dict[int, list[AgentLot]] = defaultdict(list)
    for clean, agent, lot in (
        StepRecord.objects.filter(within, left_out=False, step__agent__isnull=False)
        .exclude(agent_lot="")
        .order_by("pk")
        .values_list("clean_id", "step__agent__name", "agent_lot")
    ):
        used = AgentLot(agent, lot)
        if used not in found[clean]:
            found[clean].append(used)
    return found


def standing_deviations() -> QuerySet[Deviation]:
    """Deviations but for those whose reading was corrected since."""
    return Deviation.objects.filter(reading__corrected_by__isnull=True)


def deviations_by_turnaround(within: Q) -> dict[int, int]:
    """How many; ``within`` is asked from the deviations down."""
    return dict(
        standing_deviations()
        .filter(within)
        .order_by()
        .values_list("record__clean__turnaround")
        .annotate(number=Count("pk"))
    )

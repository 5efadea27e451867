"""What became of each turnaround: one row of plain facts, for charts, rates and totals.

**First-time clean**: no reading after the first finished clean was the first at its point and
over the action limit there, every point that a release asks for was read and judged, and no
second clean followed. A re-sanitise in between changes nothing; a retest of the same clean does
not count, since a second stick does not wipe out the first. It is not told (``None``) where a
point that a release asks for was not read, or was read without approved limits.

A point counts as asked for from its first reading on, since nothing says when it was put up.
"""

import dataclasses
from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce
from django.utils import timezone

from brewhygiene.atp.models import Result, Verdict
from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.people.models import User
from brewhygiene.release.models import Decision, Outcome
from brewhygiene.turnarounds.models import (
    Clean,
    CleanPurpose,
    Deviation,
    StepRecord,
    Turnaround,
    VesselOpening,
)


class Why(StrEnum):
    """Why a turnaround was clean the first time, was not, or why it is not told."""

    CLEAN = "clean", "clean the first time"
    OVER = "over", "a first reading over the action limit"
    AGAIN = "again", "cleaned a second time"
    NOT_CLEANED = "not_cleaned", "no clean finished yet"
    UNSAMPLED = "unsampled", "a point that a release asks for was not read"
    UNJUDGED = "unjudged", "a reading without approved limits"

    words: str

    def __new__(cls, value: str, words: str) -> "Why":
        member = str.__new__(cls, value)
        member._value_ = value
        member.words = words
        return member


class AgentLot(NamedTuple):
    """A lot of an agent, as it was written down at a step."""

    agent: str
    lot: str

    def __str__(self) -> str:
        return f"{self.agent}, lot {self.lot}"


@dataclasses.dataclass(frozen=True, slots=True)
class TurnFact:
    """One turnaround. ``regime``, ``version``, lots and people are those of its first clean.

    ``first_time_clean`` is ``None`` where it is not told; ``why`` says why in each case.
    ``hours_to_release`` goes from emptied to the first release. ``lapses`` counts releases that
    grew too old before the fill; ``deviations`` are those of all its cleans.
    """

    turnaround_id: int
    vessel_id: int
    vessel_name: str
    opened_at: datetime
    closed_at: datetime | None
    released_at: datetime | None
    hours_to_release: float | None
    first_time_clean: bool | None
    why: Why
    cleaned_at: datetime | None
    recleans: int
    resanitises: int
    stopped: int
    lapses: int
    regime: str
    version: int | None
    beer_before: str
    sour_or_mixed_before: bool
    diastatic_before: bool
    fruit_or_hops_before: bool
    agent_lots: tuple[AgentLot, ...]
    cleaned_by: tuple[str, ...]
    released_by: tuple[str, ...]
    self_release: bool
    without_release: bool
    deviations: int


def turn_facts(
    *,
    since: datetime,
    until: datetime,
    vessel: Vessel | None = None,
    now: datetime | None = None,
) -> list[TurnFact]:
    """The turnarounds opened from ``since`` to before ``until``, oldest first. 10 queries.

    ``now`` says whether a release that still stands has lapsed.
    """
    now = now or timezone.now()
    within = opened_within(since=since, until=until, vessel=vessel)
    turnarounds = _turnarounds(since=since, until=until, vessel=vessel)
    cleans = _cleans(within)
    sampled = _first_readings_of_each_clean(within)
    with_resanitises = _first_readings_with_resanitises(within)
    asked = _points_asked_for(vessel)
    decisions = _decisions(within)
    openings = _openings(within)
    deviations = dict(
        Deviation.objects.filter(
            opened_within("record__clean__turnaround__", since=since, until=until, vessel=vessel)
        )
        .order_by()
        .values_list("record__clean__turnaround")
        .annotate(number=Count("pk"))
    )
    lots = _agent_lots(
        opened_within("clean__turnaround__", since=since, until=until, vessel=vessel)
    )
    people = {user.pk: user.display_name for user in User.objects.only("full_name", "username")}
    facts = []
    for turn in turnarounds:
        own = cleans.get(turn.pk, ())
        first = next((clean for clean in own if clean.full and clean.finished_at), None)
        later = [c for c in own if c.full and first is not None and c.pk > first.pk]
        resanitises = sum(not clean.full and clean.finished_at is not None for clean in own)
        readings = NONE_READ
        if first is not None and turn.pk in with_resanitises:
            before = later[0].pk if later else None
            readings = _counted(
                reading
                for reading in with_resanitises[turn.pk]
                if first.pk <= reading.clean and (before is None or reading.clean < before)
            )
        elif first is not None:
            readings = sampled.get(first.pk, NONE_READ)
        told, why = _first_time_clean(
            first=first, again=bool(later), readings=readings, asked=asked.at(turn)
        )
        releases = decisions.get(turn.pk, ())
        released_at = releases[0].decided_at if releases else None
        facts.append(
            TurnFact(
                turnaround_id=turn.pk,
                vessel_id=turn.vessel_id,
                vessel_name=turn.vessel_name,
                opened_at=turn.opened_at,
                closed_at=turn.closed_at,
                released_at=released_at,
                hours_to_release=(
                    (released_at - turn.opened_at).total_seconds() / 3600 if released_at else None
                ),
                first_time_clean=told,
                why=why,
                cleaned_at=first.finished_at if first else None,
                recleans=sum(clean.finished_at is not None for clean in later),
                resanitises=resanitises,
                stopped=sum(clean.stopped for clean in own),
                lapses=_lapses(
                    releases,
                    cleans=own,
                    openings=openings.get(turn.pk, ()),
                    end=turn.closed_at or now,
                ),
                regime=first.regime if first else "",
                version=first.version if first else None,
                beer_before=turn.beer_before or "",
                sour_or_mixed_before=bool(turn.sour_or_mixed),
                diastatic_before=bool(turn.diastatic),
                fruit_or_hops_before=bool(turn.fruit_or_heavy_hops),
                agent_lots=tuple(lots.get(first.pk, ())) if first else (),
                cleaned_by=_names(people, (first.started_by, first.finished_by) if first else ()),
                released_by=_names(people, (release.by for release in releases)),
                self_release=any(release.self_release for release in releases),
                without_release=bool(turn.without_release),
                deviations=deviations.get(turn.pk, 0),
            )
        )
    return facts


def opened_within(
    path: str = "turnaround__", *, since: datetime, until: datetime, vessel: Vessel | None = None
) -> Q:
    """What hangs on turnarounds opened in a period; ``path`` is the way up to them."""
    within = Q(**{f"{path}opened_at__gte": since, f"{path}opened_at__lt": until})
    return within if vessel is None else within & Q(**{f"{path}vessel": vessel})


@dataclasses.dataclass(frozen=True, slots=True)
class _Turn:
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


def _turnarounds(*, since: datetime, until: datetime, vessel: Vessel | None) -> list[_Turn]:
    found = Turnaround.objects.filter(opened_within("", since=since, until=until, vessel=vessel))
    return [
        _Turn(*row)
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
        )
    ]


@dataclasses.dataclass(frozen=True, slots=True)
class _Clean:
    pk: int
    full: bool
    started_at: datetime
    finished_at: datetime | None
    stopped: bool
    regime: str
    version: int
    started_by: int
    finished_by: int | None


def _cleans(within: Q) -> dict[int, list[_Clean]]:
    """Cleans and re-sanitises by turnaround, in the order in which they were begun."""
    found: dict[int, list[_Clean]] = defaultdict(list)
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
            _Clean(pk, full, started, finished, stopped is not None, regime, version, by, ended_by)
        )
    return found


@dataclasses.dataclass(frozen=True, slots=True)
class _Readings:
    """First readings after a clean: points that a release asks for, of those without a verdict,
    and those over the action limit at any point."""

    asked_for: int
    unjudged: int
    over: int


NONE_READ = _Readings(0, 0, 0)
_ASKED_FOR = Q(point__required_for_release=True, point__active=True)


def first_readings() -> QuerySet[Result]:
    """Standing results that are no retest: the first at their point after their clean."""
    # By an expression: nearly all are none, and SQLite would go through them all by its index.
    return Result.objects.alias(retested=Coalesce("retest_of_id", Value(0))).filter(
        retested=0, corrected_by__isnull=True
    )


def _first_readings_of_each_clean(within: Q) -> dict[int, _Readings]:
    """By clean. The database counts, since a year has a hundred thousand readings."""
    return {
        clean: _Readings(asked_for, unjudged, over)
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
class _Reading:
    clean: int
    point: int
    verdict: str
    asked_for: bool


def _first_readings_with_resanitises(within: Q) -> dict[int, list[_Reading]]:
    """By turnaround, oldest first, for the few with a re-sanitise.

    There, the first reading at a point may come after the re-sanitise.
    """
    again = (
        Clean.objects.filter(within, purpose=CleanPurpose.RESANITISE)
        .order_by()
        .values("turnaround")
    )
    found: dict[int, list[_Reading]] = defaultdict(list)
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
        found[turn].append(_Reading(clean, point, verdict, required and active))
    return found


def _counted(readings: Iterable[_Reading]) -> _Readings:
    """The first reading at each point of those given, oldest first."""
    first: dict[int, _Reading] = {}
    for reading in readings:
        first.setdefault(reading.point, reading)
    return _Readings(
        asked_for=sum(r.asked_for for r in first.values()),
        unjudged=sum(r.asked_for and r.verdict == Verdict.UNJUDGED for r in first.values()),
        over=sum(r.verdict == Verdict.ACTION for r in first.values()),
    )


class _PointsAskedFor:
    """How many points a release asked for, by vessel and time."""

    def __init__(self, first_read: Mapping[int, Sequence[datetime]], never_read: Mapping[int, int]):
        self._first_read = first_read
        self._never_read = never_read

    def at(self, turn: _Turn) -> int:
        """All of them while it is open; once it is closed, those that had ever been read."""
        first_read = self._first_read.get(turn.vessel_id, ())
        if turn.closed_at is None:
            return len(first_read) + self._never_read.get(turn.vessel_id, 0)
        return bisect_right(first_read, turn.closed_at)


def _points_asked_for(vessel: Vessel | None) -> _PointsAskedFor:
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
    return _PointsAskedFor(
        {vessel_id: sorted(moments) for vessel_id, moments in first_read.items()}, never_read
    )


def _first_time_clean(
    *, first: _Clean | None, again: bool, readings: _Readings, asked: int
) -> tuple[bool | None, Why]:
    if first is None:
        return None, Why.NOT_CLEANED
    if readings.over:
        return False, Why.OVER
    if again:
        return False, Why.AGAIN
    if readings.asked_for < asked or not readings.asked_for:
        return None, Why.UNSAMPLED
    if readings.unjudged:
        return None, Why.UNJUDGED
    return True, Why.CLEAN


@dataclasses.dataclass(frozen=True, slots=True)
class _Release:
    decided_at: datetime
    lapses_at: datetime
    by: int
    self_release: bool


def _decisions(within: Q) -> dict[int, list[_Release]]:
    """Releases by turnaround, oldest first."""
    found: dict[int, list[_Release]] = defaultdict(list)
    for turn, decided_at, lapses_at, by, self_release in (
        Decision.objects.filter(within, outcome=Outcome.RELEASE)
        .order_by("pk")
        .values_list(
            "turnaround_id", "decided_at", "lapses_at", "signature__user_id", "self_release"
        )
    ):
        assert lapses_at is not None  # the table has no release without
        found[turn].append(_Release(decided_at, lapses_at, by, self_release))
    return found


def _openings(within: Q) -> dict[int, list[datetime]]:
    found: dict[int, list[datetime]] = defaultdict(list)
    for turn, moment in VesselOpening.objects.filter(within).values_list(
        "turnaround_id", "opened_at"
    ):
        found[turn].append(moment)
    return found


def _lapses(
    releases: Sequence[_Release],
    *,
    cleans: Iterable[_Clean],
    openings: Iterable[datetime],
    end: datetime,
) -> int:
    """Releases that were too old before the fill, another clean or an opening overtook them."""
    overtakers = [*(clean.started_at for clean in cleans), *openings, end]
    return sum(
        release.lapses_at
        < min((moment for moment in overtakers if moment >= release.decided_at), default=end)
        for release in releases
    )


def _agent_lots(within: Q) -> dict[int, list[AgentLot]]:
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


def _names(people: Mapping[int, str], who: Iterable[int | None]) -> tuple[str, ...]:
    """Each once, in order."""
    return tuple(dict.fromkeys(people[pk] for pk in who if pk is not None))

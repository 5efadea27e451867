"""What became of each turnaround: one row of plain facts, for charts, rates and totals.

**First-time clean**: no reading after the first finished clean was the first at its point and
over the action limit there, every point that a release asks for was read and judged, and no
second clean followed. A re-sanitise in between changes nothing; a retest of the same clean does
not count, since a second swab does not wipe out the first. It is not judged (``None``) where a
point that a release asks for was not read, or was read without approved limits.

A point counts as asked for from its first reading on, since nothing says when it was put up.
"""

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from enum import StrEnum

from django.utils import timezone

from brewhygiene.cellar.models import Vessel
from brewhygiene.people.models import User
from brewhygiene.trends.turns.happenings import (
    NONE_READ,
    AgentLot,
    CleanRun,
    FirstReadings,
    Release,
    cleans_run,
    counted,
    deviations_by_turnaround,
    first_readings_by_clean,
    first_readings_with_resanitises,
    lots_used,
    opened_within,
    openings_made,
    points_asked_for,
    releases_signed,
    turnarounds_opened,
)


class Why(StrEnum):
    """Why a turnaround was clean the first time, was not, or why it is not judged."""

    CLEAN = "clean", "clean the first time"
    OVER = "over", "a first reading over the action limit"
    AGAIN = "again", "re-cleaned"
    NOT_CLEANED = "not_cleaned", "no clean finished yet"
    UNSAMPLED = "unsampled", "a point required for release was not read"
    UNJUDGED = "unjudged", "a reading without approved limits"

    words: str

    def __new__(cls, value: str, words: str) -> "Why":
        member = str.__new__(cls, value)
        member._value_ = value
        member.words = words
        return member


@dataclasses.dataclass(frozen=True, slots=True)
class TurnFact:
    """One turnaround. ``regime``, ``version``, lots and people are those of its first clean.

    ``first_time_clean`` is ``None`` where it is not judged; ``why`` says why in each case.
    ``hours_to_release`` goes from emptied to the first release, and is ``None`` where the vessel
    was emptied before this record began. ``lapses`` counts releases that
    lapsed before the fill; ``deviations`` are those of all its cleans.
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
    turnarounds = turnarounds_opened(since=since, until=until, vessel=vessel)
    cleans = cleans_run(within)
    sampled = first_readings_by_clean(within)
    with_resanitises = first_readings_with_resanitises(within)
    asked = points_asked_for(vessel)
    decisions = releases_signed(within)
    opened = openings_made(within)
    deviations = deviations_by_turnaround(
        opened_within("record__clean__turnaround__", since=since, until=until, vessel=vessel)
    )
    lots = lots_used(opened_within("clean__turnaround__", since=since, until=until, vessel=vessel))
    people = {user.pk: user.display_name for user in User.objects.only("full_name", "username")}
    facts = []
    # What was read is taken out as it is used: a large brewery's year is much to hold twice.
    for turn in turnarounds:
        own = cleans.pop(turn.pk, [])
        first = next((clean for clean in own if clean.full and clean.finished_at), None)
        later = [c for c in own if c.full and first is not None and c.pk > first.pk]
        resanitises = sum(not clean.full and clean.finished_at is not None for clean in own)
        readings = NONE_READ
        if first is not None and turn.pk in with_resanitises:
            before = later[0].pk if later else None
            readings = counted(
                reading
                for reading in with_resanitises[turn.pk]
                if first.pk <= reading.clean and (before is None or reading.clean < before)
            )
        elif first is not None:
            readings = sampled.pop(first.pk, NONE_READ)
        outcome, why = _first_time_clean(
            first=first, again=bool(later), readings=readings, asked=asked.at(turn)
        )
        releases = decisions.pop(turn.pk, [])
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
                    (released_at - turn.opened_at).total_seconds() / 3600
                    if released_at and turn.began_before_record is None
                    else None
                ),
                first_time_clean=outcome,
                why=why,
                cleaned_at=first.finished_at if first else None,
                recleans=sum(clean.finished_at is not None for clean in later),
                resanitises=resanitises,
                stopped=sum(clean.stopped for clean in own),
                lapses=_lapses(
                    releases,
                    cleans=own,
                    openings=opened.get(turn.pk, ()),
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


def _first_time_clean(
    *, first: CleanRun | None, again: bool, readings: FirstReadings, asked: int
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


def _lapses(
    releases: Sequence[Release],
    *,
    cleans: Iterable[CleanRun],
    openings: Iterable[datetime],
    end: datetime,
) -> int:
    """Releases that lapsed before the fill, another clean or an opening overtook them."""
    if all(release.lapses_at >= end for release in releases):
        return 0
    overtakers = [*(clean.started_at for clean in cleans), *openings, end]
    return sum(
        release.lapses_at
        < min((moment for moment in overtakers if moment >= release.decided_at), default=end)
        for release in releases
    )


def _names(people: Mapping[int, str], who: Iterable[int | None]) -> tuple[str, ...]:
    """Each once, in order."""
    return tuple(dict.fromkeys(people[pk] for pk in who if pk is not None))

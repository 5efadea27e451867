"""All signals of the house by their evidence, and what all points share."""

import dataclasses
from datetime import timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from brewhygiene.people.permissions import permission_needed
from brewhygiene.people.requests import Request
from brewhygiene.science.control.shapes import Suspect
from brewhygiene.trends.models import PointStanding
from brewhygiene.trends.signals.causes import FALL, POINT, SOURCE
from brewhygiene.trends.signals.common_figures import factor_tables, weeks_figure
from brewhygiene.trends.signals.standing import standings_and_waiting
from brewhygiene.trends.signals.suspects import MOST_READINGS, Told, by_luck, compare, told
from brewhygiene.trends.signals.words import standing_words

# Further back a signal that nobody read anything after says little of now.
STALE = timedelta(days=90)


@dataclasses.dataclass(frozen=True)
class ToldPoint:
    """One point's signal in a group."""

    row: PointStanding
    rule: str


@dataclasses.dataclass(frozen=True)
class Group:
    """Points that get worse for what seems to be one reason."""

    title: str
    told: Told | None
    causes: tuple[str, ...]
    signals: list[ToldPoint]

    @property
    def evidence(self) -> float:
        return max(one.row.evidence for one in self.signals)


def _groups(rows: list[PointStanding], suspects: dict[int, Suspect | None]) -> list[Group]:
    by_suspect: dict[int, list[PointStanding]] = {}
    alone: list[PointStanding] = []
    found: dict[int, Suspect] = {}
    for row in rows:
        suspect = suspects[row.pk]
        if suspect is None or suspect.rise.factor == "point":
            alone.append(row)
        else:
            by_suspect.setdefault(id(suspect), []).append(row)
            found[id(suspect)] = suspect
    groups = []
    for key, ours in by_suspect.items():
        words = told(found[key])
        groups.append(Group(words.title, words, words.causes, _told(ours)))
    for row in alone:
        suspect = suspects[row.pk]
        words_of = told(suspect) if suspect else None
        groups.append(
            Group(
                title=f"One point: {row.point}",
                told=words_of,
                causes=words_of.causes if words_of else POINT,
                signals=_told([row]),
            )
        )
    return sorted(groups, key=lambda group: -group.evidence)


def _told(rows: list[PointStanding]) -> list[ToldPoint]:
    return [ToldPoint(row, standing_words(row)) for row in rows]


@permission_needed("see_everything")
def signals(request: Request) -> HttpResponse:
    """Every current signal, grouped by what may be behind it, the strongest first."""
    now = timezone.now()
    found = standings_and_waiting(now)
    fresh = [row for row in found.rows if row.last_result.taken_at >= now - STALE]
    compared = compare(found.rows, until=now)
    worse = [row for row in fresh if row.evidence > 1]
    falls = [row for row in fresh if row.rule.endswith("_down")]
    single = [row for row in fresh if row.rule == "beyond_3"]
    # A point read with two meters of late has a standing of each.
    with_limits = {row.point_id for row in fresh if row.sigma is not None}
    context: dict[str, Any] = {
        "room": "trends",
        "groups": _groups(worse, {row.pk: compared.behind(row) for row in worse}),
        "falls": _told(falls),
        "fall_causes": FALL,
        "low": [told(one, low=True) for one in compared.low],
        "single": _told(single),
        "luck": by_luck(found.rows, now=now),
        "without": len({row.point_id for row in fresh} - with_limits),
        "stale": len({row.point_id for row in found.rows} - {row.point_id for row in fresh}),
        "waiting": found.waiting,
        "worse": len({row.point_id for row in worse}),
        "points": len({row.point_id for row in found.rows}),
        "causes_source": SOURCE,
    }
    return render(request, "trends/signals/signals.html", context)


@permission_needed("see_everything")
def common(request: Request) -> HttpResponse:
    """What all points share, level by level: does it read higher than its charts' centres?"""
    now = timezone.now()
    found = standings_and_waiting(now)
    compared = compare(found.rows, until=now)
    context = {
        "room": "trends",
        "compared": compared,
        "suspects": [told(one) for one in compared.shapes.suspects] if compared.shapes else [],
        "low": [told(one, low=True) for one in compared.low],
        "weeks": weeks_figure(compared),
        "tables": factor_tables(compared),
        "most": MOST_READINGS,
        "waiting": found.waiting,
        "causes_source": SOURCE,
    }
    return render(request, "trends/signals/common.html", context)

"""All signals of the brewery by their evidence, and the causes that points share."""

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
from brewhygiene.trends.signals.suspects import (
    MOST_READINGS,
    SuspectWords,
    compare,
    false_alarms,
    suspect_words,
)
from brewhygiene.trends.signals.words import standing_words

# Further back, a signal of a point not read since says little of now.
STALE = timedelta(days=90)


@dataclasses.dataclass(frozen=True)
class PointSignal:
    """One point's signal in a group."""

    row: PointStanding
    rule: str


@dataclasses.dataclass(frozen=True)
class Group:
    """Points that get worse for what seems to be one reason."""

    title: str
    suspect: SuspectWords | None
    causes: tuple[str, ...]
    signals: list[PointSignal]

    @property
    def evidence(self) -> float:
        return max(one.row.evidence for one in self.signals)


def _groups(rows: list[PointStanding], suspects: dict[int, Suspect | None]) -> list[Group]:
    """Points of one shared suspect together, the others each alone; the strongest first."""
    together: dict[int, list[PointStanding]] = {}
    for row in rows:
        suspect = suspects[row.pk]
        shared = suspect is not None and suspect.rise.factor != "point"
        together.setdefault(id(suspect) if shared else -row.pk, []).append(row)
    groups = []
    for ours in together.values():
        suspect = suspects[ours[0].pk]
        words = suspect_words(suspect) if suspect else None
        groups.append(
            Group(
                title=words.title if words else f"One point: {ours[0].point}",
                suspect=words,
                causes=words.causes if words else POINT,
                signals=_signals(ours),
            )
        )
    return sorted(groups, key=lambda group: -group.evidence)


def _signals(rows: list[PointStanding]) -> list[PointSignal]:
    return [PointSignal(row, standing_words(row)) for row in rows]


@permission_needed("see_everything")
def signals(request: Request) -> HttpResponse:
    """Every current signal, grouped by what may be behind it, the strongest first."""
    now = timezone.now()
    found = standings_and_waiting(now)
    fresh = [row for row in found.rows if row.last_result.taken_at >= now - STALE]
    compared = compare(found.rows, until=now)
    worse = [row for row in fresh if row.evidence > 1]
    # A point read with two meters of late has a standing of each.
    with_limits = {row.point_id for row in fresh if row.sigma is not None}
    context: dict[str, Any] = {
        "room": "trends",
        "groups": _groups(worse, {row.pk: compared.behind(row) for row in worse}),
        "falls": _signals([row for row in fresh if row.rule.endswith("_down")]),
        "fall_causes": FALL,
        "low": [suspect_words(one, low=True) for one in compared.low],
        "single": _signals([row for row in fresh if row.rule == "beyond_3"]),
        "false_alarms": false_alarms(found.rows, now=now),
        "without_limits": len({row.point_id for row in fresh} - with_limits),
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
        "suspects": [suspect_words(s) for s in compared.shapes.suspects] if compared.shapes else [],
        "low": [suspect_words(one, low=True) for one in compared.low],
        "weeks": weeks_figure(compared),
        "tables": factor_tables(compared),
        "most": MOST_READINGS,
        "waiting": found.waiting,
        "causes_source": SOURCE,
    }
    return render(request, "trends/signals/common.html", context)

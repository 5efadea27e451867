"""The release queue: what waits to be decided, is held, has lapsed, or waits to be filled."""

import dataclasses
from collections import Counter
from collections.abc import Sequence
from datetime import datetime

from brewhygiene.atp.models.readings import Verdict
from brewhygiene.cellar.models import Vessel
from brewhygiene.cellar.queries import by_place
from brewhygiene.release.polling import Seen, changed_since, news_of, seen_of
from brewhygiene.release.queries import VesselState, states_of
from brewhygiene.release.standing.clocks import last_full_clean
from brewhygiene.release.status import Code

PARTS = {
    Code.TO_DECIDE: "To decide",
    Code.HELD: "Held",
    Code.LAPSED: "Lapsed",
    Code.RELEASED: "Released, waiting to be filled",
}


@dataclasses.dataclass(frozen=True)
class Waiting:
    """A vessel in the queue."""

    vessel_pk: int
    name: str
    kind: str
    turnaround_pk: int | None
    code: Code
    detail: str
    since: datetime | None
    due_at: datetime | None
    overdue: bool
    next_beer: str
    verdicts: Sequence[tuple[str, int]]


@dataclasses.dataclass(frozen=True)
class Part:
    """The vessels of one status; ``name`` is its anchor on the page."""

    title: str
    name: str
    rows: Sequence[Waiting]


@dataclasses.dataclass(frozen=True)
class Queue:
    """The queue's parts that are not empty, and what a page that shows them has seen."""

    now: datetime
    parts: Sequence[Part]
    seen: Seen
    news: str

    @property
    def number(self) -> int:
        return sum(len(part.rows) for part in self.parts)


def _verdicts(state: VesselState) -> list[tuple[str, int]]:
    """How many readings since the last full clean got which verdict."""
    turnaround = state.facts.turnaround
    full = last_full_clean(turnaround) if turnaround else None
    if turnaround is None or full is None:
        return []
    counted = {clean.pk for clean in turnaround.cleans if clean.pk >= full.pk}
    number = Counter(r.verdict for r in turnaround.results if r.clean_pk in counted)
    return [(verdict.value, number[verdict]) for verdict in Verdict if number[verdict]]


def _waiting(state: VesselState, now: datetime) -> Waiting:
    status, turnaround = state.status, state.turnaround
    next_beer = turnaround.next_beer if turnaround else None
    return Waiting(
        vessel_pk=state.vessel.pk,
        name=state.vessel.name,
        kind=state.vessel.get_kind_display(),
        turnaround_pk=turnaround.pk if turnaround else None,
        code=status.code,
        detail=status.detail,
        since=status.since,
        due_at=status.due_at,
        overdue=status.overdue(now),
        next_beer=next_beer.name if next_beer else "",
        verdicts=tuple(_verdicts(state)),
    )


def queue_at(now: datetime, *, seen: Seen | None = None) -> Queue:
    """The queue, what is due soonest first in each part. 7 queries."""
    states = states_of(Vessel.objects.all(), now=now)
    codes = {state.vessel.pk: state.status.code for state in states}
    parts = []
    for code, title in PARTS.items():
        found = [state for state in states if state.status.code == code]
        rows = [_waiting(state, now) for state in sorted(found, key=lambda s: by_place(s.vessel))]
        rows.sort(key=lambda row: row.due_at or row.since or now)
        if rows:
            parts.append(Part(title=title, name=code.value, rows=rows))
    changed = set(changed_since(seen, codes=codes))
    return Queue(
        now=now,
        parts=parts,
        seen=seen_of([parts], codes=codes, now=now),
        news=news_of((s.vessel.name, s.status.code) for s in states if s.vessel.pk in changed),
    )

"""What happened at a point and is marked on its chart."""

import dataclasses
import itertools
from collections.abc import Iterable, Sequence
from datetime import datetime

from django.db.models import Min

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTestLot
from brewhygiene.atp.phases.series import PointSeries, Reading
from brewhygiene.cellar.models import Vessel
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.turnarounds.models import StepRecord

KINDS = {
    "work": "work on a part",
    "anew": "new phase",
    "baseline": "new baseline",
    "moment": "other sampling moment",
    "scale": "change of meter or ATP test",
    "version": "new regime version",
    "test_lot": "lot of ATP tests",
    "agent_lot": "agent lot",
}
SHORT_KINDS = {"scale": "other meter", "version": "new regime", "baseline": "new baseline"}
# These begin a phase or explain a step; lots come so often that only the latest are marked.
ALWAYS_MARKED = frozenset({"work", "anew", "baseline", "moment", "scale", "version"})
LOTS_MARKED = 6
LONGEST_ON_CHART = 28


@dataclasses.dataclass(frozen=True)
class Event:
    """Something that may explain a change from ``at`` on; ``short`` stands on the chart."""

    at: datetime
    kind: str
    words: str
    short: str

    @property
    def kind_words(self) -> str:
        return KINDS[self.kind]


@dataclasses.dataclass(frozen=True)
class Names:
    """What the readings' keys stand for."""

    versions: dict[int, str]
    test_lots: dict[int, str]
    limits: dict[int, tuple[int, int]]


def load_names(readings: Iterable[Reading]) -> Names:
    """Names of versions and lots of ATP tests, and the limits, by key. 3 queries."""
    versions: set[int] = set()
    lots: set[int] = set()
    limits: set[int] = set()
    for reading in readings:
        versions.add(reading.version_id)
        lots.add(reading.test_lot_id)
        if reading.limits_id is not None:
            limits.add(reading.limits_id)
    return Names(
        versions={
            version.pk: str(version)
            for version in RegimeVersion.objects.filter(pk__in=versions).select_related("regime")
        },
        test_lots=dict(AtpTestLot.objects.filter(pk__in=lots).values_list("pk", "lot")),
        limits={
            pk: (alert, action)
            for pk, alert, action in LimitSet.objects.filter(pk__in=limits).values_list(
                "pk", "alert_rlu", "action_rlu"
            )
        },
    )


def agent_lots_of(vessel: Vessel) -> list[Event]:
    """When each lot of an agent was first used on a vessel, but for the first of each. 1 query."""
    rows = (
        StepRecord.objects.filter(clean__turnaround__vessel=vessel, step__agent__isnull=False)
        .exclude(agent_lot="")
        .order_by()
        .values_list("step__agent__name", "agent_lot")
        .annotate(first=Min("started_at"))
    )
    found = []
    known: set[str] = set()
    for agent, lot, first in sorted(rows, key=lambda row: row[2]):
        if agent in known:
            found.append(Event(first, "agent_lot", f"{agent}, lot {lot}", f"agent lot {lot}"))
        known.add(agent)
    return found


def events_of(series: PointSeries, names: Names) -> list[Event]:
    """What changed at a point, by its readings and phases, in time order."""
    # Work begins a phase on each scale in use; it is one event.
    begins = {
        (phase.begin.at, phase.begin.kind, phase.begin.words)
        for phase in series.phases
        if phase.begin.kind in KINDS
    }
    found = [Event(at, kind, words, short_words(words, kind)) for at, kind, words in begins]
    scales = {phase.scale.key: phase.scale for phase in series.phases}
    charted = series.readings
    known_lots = {charted[0].test_lot_id} if charted else set()
    known_versions = {charted[0].version_id} if charted else set()
    for before, reading in itertools.pairwise(charted):
        at = reading.taken_at
        if reading.scale != before.scale:
            scale = scales.get(reading.scale)
            words = str(scale) if scale else "another meter or ATP test"
            found.append(Event(at, "scale", f"read with {words}", short_words(words, "scale")))
        # Regimes take turns, as an acid clean every fifth time: only what is new here is named.
        if reading.version_id not in known_versions:
            known_versions.add(reading.version_id)
            words = names.versions[reading.version_id]
            found.append(Event(at, "version", words, short_words(words, "version")))
        if reading.test_lot_id not in known_lots:
            known_lots.add(reading.test_lot_id)
            lot = names.test_lots[reading.test_lot_id]
            found.append(Event(at, "test_lot", f"lot {lot}", f"lot {lot}"))
    return sorted(found, key=lambda event: event.at)


def short_words(words: str, kind: str) -> str:
    """What stands on a chart of an event: its own words, or its kind where they are too long."""
    head = words.split(";")[-1].strip().removeprefix("restarted: ").split(": ")[0]
    return head if len(head) <= LONGEST_ON_CHART else SHORT_KINDS.get(kind, "new phase")


def marked(events: Sequence[Event], *, since: datetime | None = None) -> list[Event]:
    """The events that are marked on a chart that begins at ``since``."""
    shown = [event for event in events if since is None or event.at >= since]
    lots = [event for event in shown if event.kind not in ALWAYS_MARKED][-LOTS_MARKED:]
    kept = [event for event in shown if event.kind in ALWAYS_MARKED]
    return sorted([*kept, *lots], key=lambda event: event.at)

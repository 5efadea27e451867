"""Shared causes: the brewery's latest readings, compared by all that they share."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime, timedelta

from django.db.models import Count
from django.utils import timezone

from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.phases.series import log_rlu
from brewhygiene.people.models import User
from brewhygiene.quantities.style import digits, shown_moment
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.science.control.judging import BASELINE
from brewhygiene.science.control.run_length import false_alarm_chance
from brewhygiene.science.control.shapes import (
    SHARED,
    Factor,
    Shapes,
    Suspect,
    Tagged,
    shapes_of,
)
from brewhygiene.science.errors import TooFewReadings
from brewhygiene.trends.models import PointStanding
from brewhygiene.trends.signals.causes import SHAPES, causes_of, low_causes_of
from brewhygiene.turnarounds.models import CleanPurpose, StepRecord

WINDOW = timedelta(days=42)
# A vessel or a point that reads low is clean; what all share and reads low may mask dirt.
LOW: frozenset[Factor] = frozenset((*SHARED, "week", "brewery"))
# More would make nobody wiser and everybody wait: the latest ones count.
MOST_READINGS = 3_000
MONTH = timedelta(days=30)

FACTOR_WORDS: dict[Factor, str] = {
    "meter": "Meter",
    "test_lot": "Lot of ATP tests",
    "agent_lot": "Agent lot",
    "regime": "Regime",
    "person": "Sampled by",
    "week": "Week",
    "brewery": "All points",
    "vessel": "Vessel",
    "point": "Point",
}


@dataclasses.dataclass(frozen=True)
class Compared:
    """The brewery's latest readings in sigmas and what they say together.

    ``points`` and ``taken_at`` go with ``readings`` one by one. ``shapes`` is ``None`` where
    ``why_not`` says why nothing can be compared. ``low`` is what makes readings too low, its rise
    turned over: a height of 1 sigma means 1 sigma below.
    """

    since: datetime
    readings: tuple[Tagged, ...]
    points: tuple[int, ...]
    taken_at: tuple[datetime, ...]
    shapes: Shapes | None
    why_not: str = ""
    cut: bool = False
    low: tuple[Suspect, ...] = ()

    def behind(self, row: PointStanding) -> Suspect | None:
        """The suspect that would explain a point's signal, where most of it is among its own."""
        if self.shapes is None or row.since is None:
            return None
        ours = {
            place
            for place, point in enumerate(self.points)
            if point == row.point_id and self.taken_at[place] >= row.since
        }
        for suspect in self.shapes.suspects:
            if ours and len(ours & suspect.places) * 2 > len(ours):
                return suspect
        return None


def compare(
    rows: Sequence[PointStanding], *, until: datetime, window: timedelta = WINDOW
) -> Compared:
    """Compare the readings of the last weeks, each in sigmas of its own chart. 5 queries."""
    since = until - window
    by_scale = {
        (row.point_id, row.meter_id, row.atp_test_id): row for row in rows if row.sigma is not None
    }
    found = list(
        Result.objects.filter(
            taken_at__gte=since,
            taken_at__lte=until,
            corrected_by__isnull=True,
            clean__purpose=CleanPurpose.CLEAN,
        )
        .order_by("-taken_at", "-pk")
        .values_list(
            "point_id",
            "meter_id",
            "test_lot__atp_test_id",
            "taken_at",
            "rlu",
            "clean_id",
            "test_lot__lot",
            "clean__version_id",
            "recorded_by_id",
            "meter__name",
        )[: MOST_READINGS + 1]
    )
    cut = len(found) > MOST_READINGS
    found = found[:MOST_READINGS]
    found.reverse()
    lots = _agent_lots(since - timedelta(days=7), until)
    versions = {
        version.pk: str(version)
        for version in RegimeVersion.objects.filter(
            pk__in={row[7] for row in found}
        ).select_related("regime")
    }
    people = {
        user.pk: user.display_name for user in User.objects.filter(pk__in={row[8] for row in found})
    }
    zone = timezone.get_current_timezone()
    tagged: list[Tagged] = []
    points: list[int] = []
    times: list[datetime] = []
    seen: set[tuple[int, int]] = set()
    for point, meter, atp_test, taken_at, rlu, clean, lot, version, person, meter_name in found:
        row = by_scale.get((point, meter, atp_test))
        if row is None or taken_at < row.phase_began_at or (clean, point) in seen:
            continue
        seen.add((clean, point))
        assert row.centre is not None
        assert row.sigma is not None
        day = taken_at.astimezone(zone).date()
        monday = day - timedelta(days=day.weekday())
        tags: dict[Factor, tuple[str, ...]] = {
            "meter": (meter_name,),
            "test_lot": (lot,),
            "agent_lot": lots.get(clean, ()),
            "regime": (versions[version],),
            "person": (people[person],),
            "week": (shown_moment(monday, "j M Y"),),
            "vessel": (row.point.vessel.name,),
            "point": (str(row.point),),
        }
        tagged.append(Tagged((log_rlu(rlu) - row.centre) / row.sigma, taken_at.timestamp(), tags))
        points.append(point)
        times.append(taken_at)
    shapes, why_not = None, ""
    low: tuple[Suspect, ...] = ()
    try:
        shapes = shapes_of(tagged)
        low = _reading_low(tagged)
    except TooFewReadings as too_few:
        why_not = str(too_few)
    return Compared(
        since=since if not cut or not times else times[0],
        readings=tuple(tagged),
        points=tuple(points),
        taken_at=tuple(times),
        shapes=shapes,
        why_not=why_not,
        cut=cut,
        low=low,
    )


def _reading_low(readings: Sequence[Tagged]) -> tuple[Suspect, ...]:
    """What many vessels share that makes them read too low, as a lot of swabs kept warm does."""
    turned = [dataclasses.replace(reading, z=-reading.z) for reading in readings]
    return tuple(one for one in shapes_of(turned).suspects if one.rise.factor in LOW)


def _agent_lots(since: datetime, until: datetime) -> dict[int, tuple[str, ...]]:
    """The agent lots of the cleans of a time, by clean. 1 query."""
    rows = (
        StepRecord.objects.filter(
            clean__started_at__gte=since, clean__started_at__lte=until, step__agent__isnull=False
        )
        .exclude(agent_lot="")
        .order_by()
        .values_list("clean_id", "step__agent__name", "agent_lot")
        .distinct()
    )
    found: dict[int, list[str]] = {}
    for clean, agent, lot in rows:
        found.setdefault(clean, []).append(f"{agent}, lot {lot}")
    return {clean: tuple(sorted(set(names))) for clean, names in found.items()}


def signed(sigmas: float) -> str:
    """Sigmas with their sign, as +0.4 or −1.2; none for what rounds to 0."""
    words = digits(abs(sigmas), ".1f")
    if words == digits(0, ".1f"):
        return words
    return f"+{words}" if sigmas > 0 else f"−{words}"


@dataclasses.dataclass(frozen=True)
class SuspectWords:
    """A suspect in words: what it is, why it is suspected, what to check."""

    title: str
    shape: str
    why: str
    causes: tuple[str, ...]
    alike: str
    creeping: bool


def suspect_words(suspect: Suspect, *, low: bool = False) -> SuspectWords:
    """A suspect in words; it never blames anybody. ``low`` as in ``Compared.low``."""
    rise = suspect.rise
    title = {
        "meter": f"All readings with {rise.level}",
        "test_lot": f"All readings with ATP tests of lot {rise.level}",
        "agent_lot": f"All cleans with {rise.level}",
        "regime": f"All cleans by {rise.level}",
        "person": f"Samples taken by {rise.level}",
        "week": f"All vessels in the week from {rise.level}",
        "brewery": "All vessels",
        "vessel": f"All points of {rise.level}",
        "point": f"One point: {rise.level}",
    }[rise.factor]
    turn, side, extreme = (-1, "below", "lowest") if low else (1, "above", "worst")
    why = (
        f"{rise.readings} readings average {digits(rise.mean, '.1f')} sigmas {side} their "
        "charts' centres "
        f"(± {digits(2 * rise.error, '.1f')})."
    )
    if rise.beside is not None:
        why += f" The others average {signed(turn * rise.beside)}."
    if rise.without_worst is not None:
        part = "point" if rise.factor == "vessel" else "vessel"
        why += f" Without the {extreme} {part} it is still {signed(turn * rise.without_worst)}."
    if suspect.creeping:
        why += f" They {'fall' if low else 'rise'} slowly, not in one step."
    alike = ", ".join(f"{FACTOR_WORDS[one.factor].lower()} {one.level}" for one in suspect.alike)
    if alike:
        alike = f"The same readings share {alike}, so that may be the cause instead."
    return SuspectWords(
        title=title,
        shape=SHAPES[rise.factor] + (", a slow creep" if suspect.creeping else ""),
        why=why,
        causes=low_causes_of(rise.factor)
        if low
        else causes_of(rise.factor, creeping=suspect.creeping),
        alike=f"The same readings share {alike}, so that may be the cause instead."
        if alike
        else "",
        creeping=suspect.creeping,
    )


@dataclasses.dataclass(frozen=True)
class FalseAlarms:
    """How many points would signal in a month though nothing changed."""

    points: int
    readings: int
    expected: float

    @property
    def words(self) -> str:
        """The expectation in a sentence."""
        if not self.points:
            return "No point has limits yet."
        return (
            f"{self.points} points were charted with {self.readings} readings in the last 30 days. "
            f"If nothing had changed, up to about {digits(self.expected, '.1f')} false "
            "alarms are expected."
        )


def false_alarms(rows: Sequence[PointStanding], *, now: datetime) -> FalseAlarms:
    """Expected false alarms of the last 30 days. 1 query."""
    counts = dict(
        Result.objects.filter(
            taken_at__gte=now - MONTH,
            corrected_by__isnull=True,
            clean__purpose=CleanPurpose.CLEAN,
        )
        .order_by()
        .values_list("point_id")
        .annotate(Count("clean_id", distinct=True))
    )
    judged = [row for row in rows if row.sigma is not None and row.point_id in counts]
    expected = sum(
        false_alarm_chance(
            readings=counts[row.point_id], baseline=max(5, min(row.readings, BASELINE))
        )
        for row in judged
    )
    return FalseAlarms(len(judged), sum(counts[row.point_id] for row in judged), expected)

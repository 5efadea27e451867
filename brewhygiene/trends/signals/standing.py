"""How every point stands now, ranked by how strongly its readings say that it gets worse.

What was worked out is kept in ``PointStanding`` and brought up to date when somebody looks: only
the points with something new since are worked out again.
"""

import dataclasses
import zlib
import zoneinfo
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime

from django.db import transaction
from django.db.models import CharField, F, Value

from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.phases.series import PointPhase, PointSeries, series_of_points
from brewhygiene.atp.phases.starts import Starts, bridges_in_force, limits_from_baselines
from brewhygiene.cellar.models import PartWork, SamplingPoint
from brewhygiene.science.control.judging import Phase, Signal
from brewhygiene.trends.charting import chart_of_phase
from brewhygiene.trends.models import PointStanding

# Raised when the charts judge otherwise than before, so that what is kept is worked out again.
WORKED_OUT_BY = 3
# So many points are worked out in one go: some 20,000 readings in memory where each has 1,000.
BATCH = 20
# So many at most while somebody waits for a page; the rest follows with the next one.
AT_ONCE = 60
# A scale on which none of a point's latest readings was taken is not in use there any more.
IN_USE = 10

_UPDATED = (
    "last_result",
    "seen",
    "readings",
    "phase_began_at",
    "centre",
    "sigma",
    "ewma",
    "cusum_high",
    "evidence",
    "rule",
    "since",
    "cleans_since",
    "worked_out_at",
)


@dataclasses.dataclass(frozen=True)
class Seen:
    """Up to where the records were read: newest result, part work, chart phase; and a sum of
    the bridges and baselines that concern the point."""

    result: int = 0
    work: int = 0
    anew: int = 0
    sum: str = ""

    def __str__(self) -> str:
        return f"{self.result}.{self.work}.{self.anew}.{self.sum}"

    @classmethod
    def of(cls, text: str) -> "Seen":
        result, work, anew, total = text.split(".")
        return cls(int(result), int(work), int(anew), total)


@dataclasses.dataclass(frozen=True)
class Standings:
    """Every point's standing, the strongest evidence of getting worse first.

    ``waiting`` points have something new that is not worked out yet: ask again.
    """

    rows: list[PointStanding]
    waiting: int

    @property
    def worse(self) -> list[PointStanding]:
        """Those whose EWMA or CUSUM is beyond its limit, upward."""
        return [row for row in self.rows if row.evidence > 1]


def standings(now: datetime) -> list[PointStanding]:
    """Every point's standing, the strongest evidence of getting worse first.

    7 queries where nothing is new (9 with limits approved from a baseline).
    """
    return standings_and_waiting(now).rows


def standings_and_waiting(now: datetime, *, at_most: int = AT_ONCE) -> Standings:
    """As :func:`standings`, and how many points are still to be worked out."""
    rows, waiting = _bring_up_to_date(now, at_most=at_most)
    return Standings(rows=sorted(rows, key=lambda row: (-row.evidence, row.pk)), waiting=waiting)


def refresh(now: datetime) -> int:
    """Work out everything that is new; how many points that were."""
    done = 0
    while True:
        before = set(PointStanding.objects.values_list("pk", "seen"))
        _, waiting = _bring_up_to_date(now, at_most=AT_ONCE)
        done += len(set(PointStanding.objects.values_list("pk", "seen")) - before)
        if not waiting:
            return done


def _rows() -> list[PointStanding]:
    return list(
        PointStanding.objects.select_related("point__vessel", "meter", "atp_test", "last_result")
    )


def _in_use(rows: Iterable[PointStanding]) -> list[PointStanding]:
    return [row for row in rows if row.point.active]


def _bring_up_to_date(now: datetime, *, at_most: int) -> tuple[list[PointStanding], int]:
    rows = _rows()
    seen = {row.pk: Seen.of(row.seen) for row in rows}
    upto = Seen(
        result=max((one.result for one in seen.values()), default=0),
        work=max((one.work for one in seen.values()), default=0),
        anew=max((one.anew for one in seen.values()), default=0),
    )
    changed, newest = _changed(rows, upto)
    sums = _Sums()
    otherwise = {row.point_id for row in rows if sums.of(row) != seen[row.pk].sum}
    urgent = changed.of_events | otherwise
    # In the order of their newest reading: what is worked out then never overtakes what is not.
    by_reading = sorted(changed.by_reading, key=lambda pk: changed.by_reading[pk])
    due = [
        *sorted(changed.of_events),
        *sorted(otherwise - changed.of_events),
        *(pk for pk in by_reading if pk not in urgent),
    ]
    if not due:
        return _in_use(rows), 0
    now_due = due[: max(at_most, len(changed.of_events))]
    complete = len(now_due) == len(due)

    def reached(point_id: int) -> Seen:
        if complete:
            return newest
        result = upto.result if point_id in urgent else changed.by_reading[point_id]
        return dataclasses.replace(newest, result=result)

    for first in range(0, len(now_due), BATCH):
        batch = now_due[first : first + BATCH]
        _work_out(batch, reached=reached, sums=sums, now=now)
    if complete and rows and not PointStanding.objects.filter(seen__startswith=f"{newest}"[:-1]):
        # What is new gave no chart: remember all the same that it was read.
        PointStanding.objects.filter(pk=rows[0].pk).update(
            seen=str(dataclasses.replace(newest, sum=seen[rows[0].pk].sum))
        )
    return _in_use(_rows()), len(due) - len(now_due)


@dataclasses.dataclass(frozen=True)
class _Changed:
    by_reading: dict[int, int]  # point, its newest result
    of_events: set[int]


def _changed(rows: Sequence[PointStanding], upto: Seen) -> tuple[_Changed, Seen]:
    """The points with something newer than ``upto``, and what the newest is. 1 query."""
    kind = CharField()
    found = (
        Result.objects.filter(pk__gt=upto.result)
        .order_by()
        .values_list("point_id", Value("r", output_field=kind), "pk")
        .union(
            PartWork.objects.filter(pk__gt=upto.work)
            .order_by()
            .annotate(where=F("point_id"))
            .values_list("vessel_id", Value("w", output_field=kind), "pk"),
            ChartPhase.objects.filter(pk__gt=upto.anew)
            .order_by()
            .values_list("point_id", Value("a", output_field=kind), "pk"),
            all=True,
        )
    )
    by_vessel: dict[int, set[int]] = {}
    for row in rows:
        by_vessel.setdefault(row.point.vessel_id, set()).add(row.point_id)
    held = {row.point_id for row in rows}
    by_reading: dict[int, int] = {}
    of_events: set[int] = set()
    result, work, anew = upto.result, upto.work, upto.anew
    for where, what, pk in found.iterator(chunk_size=10_000):
        if what == "r":
            by_reading[where] = max(pk, by_reading.get(where, 0))
            result = max(result, pk)
        elif what == "w":
            of_events |= by_vessel.get(where, set())
            work = max(work, pk)
        else:
            of_events |= {where} & held
            anew = max(anew, pk)
    return _Changed(by_reading, of_events), Seen(result, work, anew)


class _Sums:
    """What changes when a bridge or a baseline that concerns a row does. 2 queries, or 4."""

    def __init__(self) -> None:
        self._starts = Starts(
            scales={},
            work={},
            anew={},
            baselines=limits_from_baselines(),
            bridges=bridges_in_force(),
            zone=zoneinfo.ZoneInfo("UTC"),  # decides no sum
        )
        self._bridges: dict[tuple[int, int], tuple[frozenset[tuple[int, int]], list[int]]] = {}

    def of(self, row: PointStanding) -> str:
        return self.of_point(row.point_id, (row.meter_id, row.atp_test_id))

    def of_point(self, point_id: int, key: tuple[int, int]) -> str:
        if key not in self._bridges:
            joined = self._starts.joined(key)
            self._bridges[key] = (
                joined,
                [
                    bridge.pk
                    for bridge in self._starts.bridges
                    if (bridge.new_meter_id, bridge.new_atp_test_id) in joined
                ],
            )
        joined, bridges = self._bridges[key]
        baselines = []
        for limits in self._starts.baselines:
            baseline = limits.baseline
            if baseline is None or (limits.meter_id, limits.atp_test_id) not in joined:
                continue
            chosen = {one.pk for one in baseline.points.all()}
            if limits.point_id in (None, point_id) and (not chosen or point_id in chosen):
                out = [one.pk for one in baseline.exclusions.all() if not one.readmitted_at]
                baselines.append((limits.pk, out))
        return f"{zlib.crc32(repr((WORKED_OUT_BY, bridges, baselines)).encode()):08x}"


def _work_out(
    batch: Sequence[int], *, reached: Callable[[int], Seen], sums: _Sums, now: datetime
) -> None:
    """Work out the standings of some points and keep them. 14 queries at most."""
    fresh = []
    for series in series_of_points(batch):
        for phase in phases_in_use(series):
            seen = dataclasses.replace(
                reached(series.point.pk), sum=sums.of_point(series.point.pk, phase.scale.key)
            )
            fresh.append(_standing(series.point, phase, seen=seen, now=now))
    kept = {(row.point_id, row.meter_id, row.atp_test_id) for row in fresh}
    with transaction.atomic():
        PointStanding.objects.bulk_create(
            fresh,
            update_conflicts=True,
            unique_fields=["point", "meter", "atp_test"],
            update_fields=_UPDATED,
        )
        gone = [
            pk
            for pk, *key in PointStanding.objects.filter(point__in=batch).values_list(
                "pk", "point_id", "meter_id", "atp_test_id"
            )
            if tuple(key) not in kept
        ]
        if gone:
            PointStanding.objects.filter(pk__in=gone).delete()


def phases_in_use(series: PointSeries) -> list[PointPhase]:
    """The present phase on each scale on which any of the point's last 10 readings was taken."""
    recent = {reading.scale for reading in series.readings[-IN_USE:]}
    present: dict[tuple[int, int], PointPhase] = {}
    for phase in series.phases:
        present[phase.scale.key] = phase
    return [phase for key, phase in present.items() if key in recent]


def worst_signal(judged: Phase) -> Signal | None:
    """The signal that is told of: the strongest upward one of now, else the strongest of now."""
    now = judged.signalling
    lasting = [one for one in now if one.direction == "up" and one.rule in ("ewma", "cusum")]
    upward = [one for one in now if one.direction == "up"]
    return next(iter([*lasting, *upward, *now]), None)


def _standing(
    point: SamplingPoint, phase: PointPhase, *, seen: Seen, now: datetime
) -> PointStanding:
    chart = chart_of_phase(phase)
    last = phase.readings[-1] if phase.readings else None
    row = PointStanding(
        point=point,
        meter_id=phase.scale.meter_id,
        atp_test_id=phase.scale.atp_test_id,
        last_result_id=(last or phase.before).result_id,  # type: ignore[union-attr]
        seen=str(seen),
        readings=len(phase.readings),
        phase_began_at=phase.begin.at,
        worked_out_at=now,
    )
    judged = chart.judged
    if judged is None:
        return row
    row.centre, row.sigma = judged.limits.centre, judged.limits.sigma
    row.evidence = judged.evidence
    if judged.judged:
        row.ewma = judged.limits.centre + judged.ewma.average[-1] * judged.limits.sigma
        row.cusum_high = judged.cusum.high[-1]
    signal = worst_signal(judged)
    if signal is not None:
        row.rule = signal.rule if signal.direction != "down" else f"{signal.rule}_down"
        row.since = phase.readings[signal.since].taken_at
        row.cleans_since = len(phase.readings) - signal.since
    return row

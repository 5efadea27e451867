"""The readings of sampling points in time order, scale by scale and phase by phase.

A *scale* is a meter with an ATP test. Readings of two scales are kept apart, unless an approved
bridge joins them: then the older ones are carried over to the scale read last, and say so.

What is charted is the first reading at the point after each finished clean: a retest, or a sample
after a re-sanitise, answers another question and is kept beside it. So is a single reading at
another moment of the clean than those before and after it: one sample that was taken late.
"""

import dataclasses
import math
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

from brewhygiene.atp.models.readings import Result
from brewhygiene.atp.phases.starts import Begin, Scale, Starts, load_starts
from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.turnarounds.models import CleanPurpose

_COLUMNS = (
    "pk",
    "point_id",
    "meter_id",
    "test_lot__atp_test_id",
    "taken_at",
    "rlu",
    "verdict",
    "limits_id",
    "test_lot_id",
    "clean_id",
    "clean__version_id",
    "clean__purpose",
    "turnaround_id",
    "recorded_by_id",
    "retest_of_id",
    "suspected_slip",
    "moment",
)


class Reading(NamedTuple):
    """One standing result, as it was read."""

    result_id: int
    point_id: int
    meter_id: int
    atp_test_id: int
    taken_at: datetime
    rlu: int
    verdict: str
    limits_id: int | None
    test_lot_id: int
    clean_id: int
    version_id: int
    purpose: str
    turnaround_id: int
    person_id: int
    retest_of_id: int | None
    suspected_slip: bool
    moment: str

    @property
    def scale(self) -> tuple[int, int]:
        return self.meter_id, self.atp_test_id

    @property
    def is_first(self) -> bool:
        """Whether it is the first after a clean of its own, no retest nor of a re-sanitise."""
        return self.retest_of_id is None and self.purpose == CleanPurpose.CLEAN


@dataclasses.dataclass(frozen=True)
class PointPhase:
    """One phase of a point's chart on one scale.

    ``readings`` are charted, with ``logs`` of log10(RLU+1) on ``scale`` (carried over where a
    bridge joins an older scale: ``bridged`` counts those); ``beside`` are the retests, samples
    after a re-sanitise and single ones at another moment. ``baseline`` is how many of the
    readings set the limits, where that is stated, and ``left_out`` which of them an approved
    baseline leaves out. A phase that began with nothing read since has no readings.
    """

    scale: Scale
    begin: Begin
    readings: tuple[Reading, ...]
    logs: tuple[float, ...]
    beside: tuple[Reading, ...] = ()
    baseline: int | None = None
    left_out: frozenset[int] = frozenset()
    bridged: int = 0
    before: Reading | None = None  # the last reading before the phase, on the same scale


@dataclasses.dataclass(frozen=True)
class PointSeries:
    """A point's phases, in the order in which they began."""

    point: SamplingPoint
    phases: tuple[PointPhase, ...]

    @property
    def readings(self) -> tuple[Reading, ...]:
        """All that is charted, in time order."""
        return tuple(
            sorted(
                (reading for phase in self.phases for reading in phase.readings),
                key=lambda reading: (reading.taken_at, reading.result_id),
            )
        )

    @property
    def present(self) -> PointPhase | None:
        """The phase on the scale that was read last; the newest where nothing was."""
        return self.phases[-1] if self.phases else None


def log_rlu(rlu: int) -> float:
    """log10(RLU+1): 0 RLU is 0."""
    return math.log10(rlu + 1)


def series_of(*, point: SamplingPoint) -> PointSeries:
    """The phases of one point. 8 queries at most."""
    (found,) = _series([point])
    return found


def series_of_vessel(vessel: Vessel, *, active_only: bool = False) -> list[PointSeries]:
    """The phases of each of a vessel's points, in their order. 9 queries at most."""
    points = vessel.points.select_related("vessel")
    return _series(list(points.filter(active=True) if active_only else points))


def series_of_points(
    point_ids: Iterable[int], *, starts: Starts | None = None
) -> list[PointSeries]:
    """The phases of several points. 9 queries at most, 2 where ``starts`` are at hand."""
    points = SamplingPoint.objects.filter(pk__in=list(point_ids)).select_related("vessel")
    return _series(list(points.order_by("pk")), starts=starts)


def readings_of(point_ids: Sequence[int]) -> dict[int, list[Reading]]:
    """Standing results after finished cleans, in time order, by point. 1 query."""
    rows = (
        Result.objects.filter(
            point_id__in=point_ids,
            corrected_by__isnull=True,
            clean__finished_at__isnull=False,
        )
        .order_by("point_id", "taken_at", "pk")
        .values_list(*_COLUMNS)
    )
    found: dict[int, list[Reading]] = {pk: [] for pk in point_ids}
    for row in rows.iterator(chunk_size=5_000):
        found[row[1]].append(Reading._make(row))
    return found


def _series(points: Sequence[SamplingPoint], *, starts: Starts | None = None) -> list[PointSeries]:
    if starts is None:
        starts = load_starts(points)
    readings = readings_of([point.pk for point in points])
    return [
        PointSeries(point=point, phases=tuple(_phases(point, readings[point.pk], starts)))
        for point in points
    ]


def _first_after_clean(readings: Iterable[Reading]) -> tuple[list[Reading], list[Reading]]:
    """What is charted, and what is kept beside it."""
    charted: list[Reading] = []
    beside: list[Reading] = []
    seen: set[int] = set()
    for reading in readings:
        if reading.purpose != CleanPurpose.CLEAN or reading.clean_id in seen:
            beside.append(reading)
        else:
            seen.add(reading.clean_id)
            charted.append(reading)
    return charted, beside


def _without_single(readings: Sequence[Reading]) -> tuple[list[Reading], list[Reading]]:
    """The readings, and apart from them each between two of one other moment than its own."""
    kept: list[Reading] = []
    single: list[Reading] = []
    for n, reading in enumerate(readings):
        later = readings[n + 1 : n + 2]
        around = {one.moment for one in (*kept[-1:], *later)}
        if kept and later and len(around) == 1 and reading.moment not in around:
            single.append(reading)
        else:
            kept.append(reading)
    return kept, single


def _phases(
    point: SamplingPoint, readings: Sequence[Reading], starts: Starts
) -> Iterable[PointPhase]:
    charted, beside = _first_after_clean(readings)
    groups: dict[frozenset[tuple[int, int]], list[Reading]] = {}
    for reading in charted:
        groups.setdefault(starts.joined(reading.scale), []).append(reading)
    found: list[PointPhase] = []
    # The scale that was read last comes last.
    for joined, every in sorted(groups.items(), key=lambda pair: pair[1][-1].taken_at):
        ours, single = _without_single(every)
        others = [reading for reading in beside if reading.scale in joined]
        others = sorted([*others, *single], key=lambda one: (one.taken_at, one.result_id))
        found.extend(_phases_on_scale(point, ours, others, joined, starts))
    return found


def _phases_on_scale(
    point: SamplingPoint,
    readings: Sequence[Reading],
    others: Sequence[Reading],
    joined: frozenset[tuple[int, int]],
    starts: Starts,
) -> Iterable[PointPhase]:
    scale = starts.scale(readings[-1].scale)
    times = [reading.taken_at for reading in readings]
    moments = [reading.moment for reading in readings]
    begins = starts.of(point, joined=joined, times=times, moments=moments)
    for n, begin in enumerate(begins):
        end = begins[n + 1] if n + 1 < len(begins) else None
        ours = tuple(readings[begin.index : end.index if end else None])
        until = end.at if end else None
        first = None if n == 0 else begin.at
        yield PointPhase(
            scale=scale,
            begin=begin,
            readings=ours,
            logs=tuple(
                starts.carried(log_rlu(reading.rlu), reading.scale, scale.key) for reading in ours
            ),
            beside=tuple(
                other
                for other in others
                if (first is None or other.taken_at >= first)
                and (until is None or other.taken_at < until)
            ),
            baseline=None
            if begin.baseline_until is None
            else sum(reading.taken_at <= begin.baseline_until for reading in ours),
            left_out=begin.left_out,
            bridged=sum(reading.scale != scale.key for reading in ours),
            before=readings[begin.index - 1] if begin.index else None,
        )

"""Where the phases of a point's chart begin, and which scales a bridge joins.

A phase begins with the first reading on a scale, with work on the point's part or its whole
vessel, where the head brewer restarts the chart, with the first day of a baseline from which
limits were approved, and where samples are from then on taken at another moment of the clean.
"""

import dataclasses
import zoneinfo
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, time, timedelta

from django.db.models import Prefetch, Q

from brewhygiene.atp.models.baselines import BaselineExclusion
from brewhygiene.atp.models.bridges import Bridge
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import AtpTest, Meter
from brewhygiene.atp.models.phases import ChartPhase
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import PartWork, SamplingPoint
from brewhygiene.cellar.moments import SamplingMoment

Key = tuple[int, int]


@dataclasses.dataclass(frozen=True)
class Scale:
    """A meter with an ATP test; its numbers are its own."""

    meter_id: int
    atp_test_id: int
    meter: str
    atp_test: str

    @property
    def key(self) -> Key:
        return self.meter_id, self.atp_test_id

    def __str__(self) -> str:
        return f"{self.meter} with {self.atp_test}"


@dataclasses.dataclass(frozen=True)
class Begin:
    """Why and when a phase begins; ``index`` is its first reading's place on its scale.

    ``kind``: *first*, *work*, *anew*, *baseline* or *moment*.
    """

    at: datetime
    kind: str
    words: str
    index: int = 0
    baseline_until: datetime | None = None
    left_out: frozenset[int] = frozenset()


@dataclasses.dataclass(frozen=True)
class Starts:
    """All that can begin a phase at some points, and the bridges between scales."""

    scales: dict[Key, Scale]
    work: dict[int, list[PartWork]]  # by vessel
    anew: dict[int, list[ChartPhase]]  # by point
    baselines: list[LimitSet]
    bridges: list[Bridge]
    zone: zoneinfo.ZoneInfo

    def scale(self, key: Key) -> Scale:
        return self.scales[key]

    def joined(self, key: Key) -> frozenset[Key]:
        """The scales that bridges join to this one, itself among them."""
        found = {key}
        grew = True
        while grew:
            grew = False
            for bridge in self.bridges:
                ends = {_reference(bridge), _new(bridge)}
                if len(ends & found) == 1:
                    found |= ends
                    grew = True
        return frozenset(found)

    def carried(self, log: float, from_: Key, to: Key) -> float:
        """log10(RLU+1) of one scale as it would be on another that bridges join to it."""
        if from_ == to:
            return log
        seen, at = {from_}, {from_: log}
        while to not in at:
            for bridge in self.bridges:
                old, new = _reference(bridge), _new(bridge)
                assert bridge.log_slope is not None
                assert bridge.log_intercept is not None
                if old in at and new not in at:
                    at[new] = bridge.log_intercept + bridge.log_slope * at[old]
                elif new in at and old not in at:
                    at[old] = (at[new] - bridge.log_intercept) / bridge.log_slope
            if set(at) == seen:
                raise LookupError("No bridge joins these scales.")
            seen = set(at)
        # No light is below none.
        return max(0.0, at[to])

    def of(
        self,
        point: SamplingPoint,
        *,
        joined: frozenset[Key],
        times: Sequence[datetime],
        moments: Sequence[str],
    ) -> list[Begin]:
        """The beginnings at a point on joined scales, given when and at which moments of their
        cleans its readings were taken.

        Of several between two readings, the last one counts and their reasons stand together. A
        change of moment only adds its reason to one that is there.
        """
        found = sorted(
            (
                *self._work_at(point),
                *self._anew_at(point, joined),
                *self._base(point, joined),
                *_other_moments(times, moments),
            ),
            key=lambda begin: begin.at,
        )
        first = Begin(times[0], "first", "first reading on this scale")
        begins = [first]
        for begin in found:
            index = bisect_left(times, begin.at)
            before = begins[-1]
            if index == 0:
                # It came before anything was read: the first phase takes its baseline from it.
                if begin.baseline_until is not None:
                    begins[0] = dataclasses.replace(begin, at=times[0])
                continue
            words = begin.words
            if index == before.index:
                begins.pop()
                words = f"{before.words}; {begin.words}"
                begin = before if begin.kind == "moment" else begin
            begins.append(dataclasses.replace(begin, index=index, words=words))
        return begins

    def _work_at(self, point: SamplingPoint) -> Iterable[Begin]:
        for work in self.work.get(point.vessel_id, ()):
            if work.point_id in (None, point.pk):
                note = f": {work.note}" if work.note else ""
                yield Begin(work.done_at, "work", f"{work.get_kind_display()}{note}")

    def _anew_at(self, point: SamplingPoint, joined: frozenset[Key]) -> Iterable[Begin]:
        for phase in self.anew.get(point.pk, ()):
            if (phase.meter_id, phase.atp_test_id) in joined:
                yield Begin(
                    phase.begins_at,
                    "anew",
                    f"restarted: {phase.reason}",
                    baseline_until=phase.baseline_until,
                )

    def _base(self, point: SamplingPoint, joined: frozenset[Key]) -> Iterable[Begin]:
        for limits in self.baselines:
            baseline = limits.baseline
            if (limits.meter_id, limits.atp_test_id) not in joined or baseline is None:
                continue
            chosen = {one.pk for one in baseline.points.all()}
            if limits.point_id not in (None, point.pk) or (chosen and point.pk not in chosen):
                continue
            midnight = time(tzinfo=self.zone)
            yield Begin(
                datetime.combine(baseline.since, midnight),
                "baseline",
                f"baseline “{baseline.name}”",
                baseline_until=datetime.combine(baseline.until, midnight) + timedelta(days=1),
                left_out=frozenset(
                    one.result_id for one in baseline.exclusions.all() if not one.readmitted_at
                ),
            )


def _other_moments(times: Sequence[datetime], moments: Sequence[str]) -> Iterable[Begin]:
    """Where a reading was taken at another moment than the one before it."""
    for at, moment, before in zip(times[1:], moments[1:], moments, strict=False):
        if moment != before:
            label = SamplingMoment(moment).label
            yield Begin(at, "moment", f"sampled at another moment: {label}")


def _reference(bridge: Bridge) -> Key:
    return bridge.reference_meter_id, bridge.reference_atp_test_id


def _new(bridge: Bridge) -> Key:
    return bridge.new_meter_id, bridge.new_atp_test_id


def bridges_in_force() -> list[Bridge]:
    """Approved bridges that nobody retired and that hold for low readings too. 1 query."""
    in_force = Bridge.objects.filter(approved_at__isnull=False, retired_at__isnull=True)
    return [bridge for bridge in in_force.order_by("pk") if bridge.joins_charts]


def limits_from_baselines() -> list[LimitSet]:
    """Limits approved from a baseline, retired or not: each began a phase. 3 queries."""
    return list(
        LimitSet.objects.filter(approved_at__isnull=False, baseline__isnull=False)
        .select_related("baseline")
        .prefetch_related(
            Prefetch("baseline__points", queryset=SamplingPoint.objects.only("pk")),
            Prefetch(
                "baseline__exclusions",
                queryset=BaselineExclusion.objects.only("baseline", "result", "readmitted_at"),
            ),
        )
        .order_by("approved_at", "pk")
    )


def load_starts(points: Sequence[SamplingPoint]) -> Starts:
    """What begins the phases of these points. 9 queries at most."""
    vessels = {point.vessel_id for point in points}
    ids = [point.pk for point in points]
    work: dict[int, list[PartWork]] = defaultdict(list)
    for one in PartWork.objects.filter(
        Q(point__isnull=True) | Q(point__in=ids), vessel__in=vessels
    ).order_by("done_at", "pk"):
        work[one.vessel_id].append(one)
    anew: dict[int, list[ChartPhase]] = defaultdict(list)
    for phase in ChartPhase.objects.filter(point__in=ids).order_by("begins_at", "pk"):
        anew[phase.point_id].append(phase)
    return Starts(
        scales=load_scales(),
        work=dict(work),
        anew=dict(anew),
        baselines=limits_from_baselines(),
        bridges=bridges_in_force(),
        zone=zoneinfo.ZoneInfo(Brewery.current().time_zone),
    )


def load_scales() -> dict[Key, Scale]:
    """Every meter with every ATP test. 2 queries."""
    tests = list(AtpTest.objects.values_list("pk", "name"))
    return {
        (meter, test): Scale(meter, test, meter_name, test_name)
        for meter, meter_name in Meter.objects.values_list("pk", "name")
        for test, test_name in tests
    }

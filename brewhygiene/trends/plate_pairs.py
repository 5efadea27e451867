"""Pairs of an ATP reading and a plate: the same point, after the same clean."""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

from django.db.models import QuerySet

from brewhygiene.atp.models import Result, Verdict
from brewhygiene.atp.queries import standing_results
from brewhygiene.plates.growth import Growth, growth_of
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.plates.queries import with_dishes
from brewhygiene.turnarounds.models import Clean


@dataclasses.dataclass(frozen=True)
class Scale:
    """A meter with a stick type: the only numbers that may stand in one table."""

    meter_id: int
    stick_type_id: int
    name: str

    @property
    def key(self) -> str:
        """As it stands in an address."""
        return f"{self.meter_id}-{self.stick_type_id}"


@dataclasses.dataclass(frozen=True)
class Pair:
    """One reading in RLU and what grew from the same point after the same clean.

    Several plates of one sample, as on two media, are one pair: it grew where any of them did.
    ``growth`` is the largest count of them, where dishes were counted by volume.
    """

    scale: Scale
    turnaround_id: int
    place: str
    taken_at: datetime
    rlu: int
    verdict: str
    alert_rlu: int | None
    action_rlu: int | None
    grew: bool
    growth: Growth | None
    plate_words: str

    @property
    def over_action(self) -> bool:
        return self.verdict == Verdict.ACTION

    @property
    def over_alert(self) -> bool:
        return self.verdict in (Verdict.ALERT, Verdict.ACTION)

    @property
    def judged(self) -> bool:
        return self.verdict != Verdict.UNJUDGED


@dataclasses.dataclass(frozen=True)
class Pairs:
    """All pairs of a period in the order of time, and how many samples have no reading beside."""

    pairs: Sequence[Pair]
    alone: int

    @property
    def scales(self) -> list[tuple[Scale, int]]:
        """The scales with how many pairs each, the most first."""
        counts: dict[Scale, int] = {}
        for pair in self.pairs:
            counts[pair.scale] = counts.get(pair.scale, 0) + 1
        return sorted(counts.items(), key=lambda found: (-found[1], found[0].name))


class _Reading(NamedTuple):
    turnaround_id: int
    point_id: int
    clean_id: int
    taken_at: datetime
    rlu: int
    verdict: str
    alert_rlu: int | None
    action_rlu: int | None
    meter_id: int
    meter: str
    stick_type_id: int
    stick_type: str


_Sample = tuple[int, int, int]  # turnaround, point, clean


def pairs_since(since: datetime | None) -> Pairs:
    """Pairs whose plate was taken since a moment, or ever. 4 queries.

    Of a clean's several readings at a point the first counts, as a second one does not wipe it
    out; a reading that a correction replaces does not.
    """
    plates = Plate.objects.exclude(state=PlateState.PENDING)
    if since is not None:
        plates = plates.filter(taken_at__gte=since)
    samples, alone = _samples(plates)
    readings = _first_readings(plates, set(samples))
    scales: dict[tuple[int, int], Scale] = {}
    pairs = []
    for key, grown in samples.items():
        found = readings.get(key, {})
        alone += not found
        for reading in found.values():
            scale = scales.setdefault(
                (reading.meter_id, reading.stick_type_id),
                Scale(
                    reading.meter_id,
                    reading.stick_type_id,
                    f"{reading.meter}, {reading.stick_type}",
                ),
            )
            pairs.append(_pair(reading, scale, grown))
    return Pairs(sorted(pairs, key=lambda p: (p.taken_at, p.place)), alone)


def _samples(plates: QuerySet[Plate]) -> tuple[dict[_Sample, list[Plate]], int]:
    """Plates by the clean that they were taken after, and how many were after none. 3 queries."""
    cleans: dict[int, list[tuple[datetime, int]]] = {}
    finished = Clean.objects.filter(
        turnaround__in=plates.values("turnaround"), finished_at__isnull=False
    ).order_by("finished_at", "pk")
    for pk, turnaround_id, at in finished.values_list("pk", "turnaround_id", "finished_at"):
        assert at is not None
        cleans.setdefault(turnaround_id, []).append((at, pk))
    samples: dict[_Sample, list[Plate]] = {}
    alone = 0
    for plate in with_dishes(plates.select_related("point", "vessel")):
        before = [pk for at, pk in cleans.get(plate.turnaround_id, []) if at <= plate.taken_at]
        if before:
            key = (plate.turnaround_id, plate.point_id, before[-1])
            samples.setdefault(key, []).append(plate)
        else:
            alone += 1
    return samples, alone


def _first_readings(
    plates: QuerySet[Plate], wanted: set[_Sample]
) -> dict[_Sample, dict[tuple[int, int], _Reading]]:
    """The first reading of each sample on each scale. 1 query."""
    rows = (
        standing_results(Result.objects.filter(turnaround__in=plates.values("turnaround")))
        .order_by("taken_at", "pk")
        .values_list(
            "turnaround_id",
            "point_id",
            "clean_id",
            "taken_at",
            "rlu",
            "verdict",
            "limits__alert_rlu",
            "limits__action_rlu",
            "meter_id",
            "meter__name",
            "stick_lot__stick_type_id",
            "stick_lot__stick_type__name",
        )
    )
    found: dict[_Sample, dict[tuple[int, int], _Reading]] = {}
    for reading in map(_Reading._make, rows):
        key = (reading.turnaround_id, reading.point_id, reading.clean_id)
        if key in wanted:
            by_scale = found.setdefault(key, {})
            by_scale.setdefault((reading.meter_id, reading.stick_type_id), reading)
    return found


def _pair(reading: _Reading, scale: Scale, plates: Sequence[Plate]) -> Pair:
    positive = [plate for plate in plates if plate.state == PlateState.POSITIVE]
    growth = _largest(growth_of(plate) for plate in positive)
    shown = positive or plates
    return Pair(
        scale=scale,
        turnaround_id=reading.turnaround_id,
        place=f"{plates[0].vessel.name}, {plates[0].point.name}",
        taken_at=reading.taken_at,
        rlu=reading.rlu,
        verdict=reading.verdict,
        alert_rlu=reading.alert_rlu,
        action_rlu=reading.action_rlu,
        grew=bool(positive),
        growth=growth,
        plate_words="; ".join(_plate_words(plate) for plate in shown),
    )


def _largest(growths: Iterable[Growth | None]) -> Growth | None:
    known = [growth for growth in growths if growth is not None]
    return max(known, key=lambda growth: growth.value or growth.low, default=None)


def _plate_words(plate: Plate) -> str:
    found = growth_of(plate) if plate.state == PlateState.POSITIVE else None
    seen = plate.colony_words if found is None else found.words
    return f"{plate.medium}: {seen}" + (f", {plate.organism}" if plate.organism else "")

"""Pairs of an ATP reading and a plate: the same point, after the same clean."""

import dataclasses
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from django.db.models import QuerySet

from brewhygiene.atp.models.readings import Result, Verdict, standing_results
from brewhygiene.plates.growth import Growth, growth_from
from brewhygiene.plates.models import DishCount, Plate, PlateState, colony_words
from brewhygiene.quantities.sorting import natural_key
from brewhygiene.science.counting.colonies import Dish
from brewhygiene.turnarounds.models import Clean


@dataclasses.dataclass(frozen=True)
class Scale:
    """A meter with an ATP test: only its readings may stand in one table."""

    meter_id: int
    atp_test_id: int
    name: str

    @property
    def key(self) -> str:
        """As it stands in an address."""
        return f"{self.meter_id}-{self.atp_test_id}"


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
    """All pairs of a period in the order of time, and how many samples have no reading."""

    pairs: Sequence[Pair]
    alone: int

    @property
    def scales(self) -> list[tuple[Scale, int]]:
        """The scales with how many pairs each, the most first."""
        counts: dict[Scale, int] = {}
        for pair in self.pairs:
            counts[pair.scale] = counts.get(pair.scale, 0) + 1
        return sorted(counts.items(), key=lambda found: (-found[1], natural_key(found[0].name)))


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
    atp_test_id: int
    atp_test: str


_Sample = tuple[int, int, int]  # turnaround, point, clean


class _Grown(NamedTuple):
    """A plate that was read, as a row: records of thousands would take seconds to build."""

    pk: int
    turnaround_id: int
    point_id: int
    taken_at: datetime
    state: str
    colonies: int | None
    organism: str
    medium: str
    suspension_ml: float | None
    area_cm2: float | None
    vessel: str
    point: str


def pairs_since(since: datetime | None) -> Pairs:
    """Pairs whose plate was taken since a moment, or ever. 4 queries.

    Of a clean's several readings at a point the first counts, as a second one does not wipe it
    out; a reading that a correction replaces does not.
    """
    plates = Plate.objects.exclude(state=PlateState.PENDING).exclude(
        state=PlateState.NEGATIVE, neutralised=False
    )
    if since is not None:
        plates = plates.filter(taken_at__gte=since)
    samples, alone = _samples(plates)
    growths = _growths(plates)
    readings = _first_readings(plates, set(samples))
    scales: dict[tuple[int, int], Scale] = {}
    pairs = []
    for key, grown in samples.items():
        found = readings.get(key, {})
        alone += not found
        for reading in found.values():
            scale = scales.setdefault(
                (reading.meter_id, reading.atp_test_id),
                Scale(
                    reading.meter_id,
                    reading.atp_test_id,
                    f"{reading.meter}, {reading.atp_test}",
                ),
            )
            pairs.append(_pair(reading, scale, grown, growths))
    return Pairs(sorted(pairs, key=lambda p: (p.taken_at, p.place)), alone)


def _samples(plates: QuerySet[Plate]) -> tuple[dict[_Sample, list[_Grown]], int]:
    """Plates by the clean that they were taken after, and how many were after none. 2 queries."""
    cleans: dict[int, list[tuple[datetime, int]]] = {}
    finished = Clean.objects.filter(
        turnaround__in=plates.values("turnaround"), finished_at__isnull=False
    ).order_by("finished_at", "pk")
    for pk, turnaround_id, at in finished.values_list("pk", "turnaround_id", "finished_at"):
        assert at is not None
        cleans.setdefault(turnaround_id, []).append((at, pk))
    samples: dict[_Sample, list[_Grown]] = {}
    alone = 0
    rows = plates.order_by("taken_at", "pk").values_list(
        "pk",
        "turnaround_id",
        "point_id",
        "taken_at",
        "state",
        "colonies",
        "organism",
        "medium",
        "suspension_ml",
        "area_cm2",
        "vessel__name",
        "point__name",
    )
    for plate in map(_Grown._make, rows):
        before = [pk for at, pk in cleans.get(plate.turnaround_id, ()) if at <= plate.taken_at]
        if before:
            key = (plate.turnaround_id, plate.point_id, before[-1])
            samples.setdefault(key, []).append(plate)
        else:
            alone += 1
    return samples, alone


def _growths(plates: QuerySet[Plate]) -> dict[int, Growth]:
    """What the dishes of positive plates say, by the plate. 1 query."""
    dishes: dict[tuple[int, float | None, float | None], list[Dish]] = {}
    rows = DishCount.objects.filter(
        plate__in=plates.filter(state=PlateState.POSITIVE), replaced_by__isnull=True
    ).values_list(
        "plate_id",
        "plate__suspension_ml",
        "plate__area_cm2",
        "dilution",
        "volume_ml",
        "colonies",
    )
    for plate_id, suspension_ml, area_cm2, dilution, volume_ml, colonies in rows:
        dish = Dish(dilution, volume_ml, colonies)
        dishes.setdefault((plate_id, suspension_ml, area_cm2), []).append(dish)
    found = {
        plate_id: growth_from(counted, suspension_ml=suspension_ml, area_cm2=area_cm2)
        for (plate_id, suspension_ml, area_cm2), counted in dishes.items()
    }
    return {plate_id: growth for plate_id, growth in found.items() if growth is not None}


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
            "test_lot__atp_test_id",
            "test_lot__atp_test__name",
        )
    )
    found: dict[_Sample, dict[tuple[int, int], _Reading]] = {}
    for reading in map(_Reading._make, rows):
        key = (reading.turnaround_id, reading.point_id, reading.clean_id)
        if key in wanted:
            by_scale = found.setdefault(key, {})
            by_scale.setdefault((reading.meter_id, reading.atp_test_id), reading)
    return found


def _pair(
    reading: _Reading, scale: Scale, plates: Sequence[_Grown], growths: Mapping[int, Growth]
) -> Pair:
    positive = [plate for plate in plates if plate.state == PlateState.POSITIVE]
    known = [growths[plate.pk] for plate in positive if plate.pk in growths]
    return Pair(
        scale=scale,
        turnaround_id=reading.turnaround_id,
        place=f"{plates[0].vessel}, {plates[0].point}",
        taken_at=reading.taken_at,
        rlu=reading.rlu,
        verdict=reading.verdict,
        alert_rlu=reading.alert_rlu,
        action_rlu=reading.action_rlu,
        grew=bool(positive),
        growth=max(known, key=lambda growth: growth.value or growth.low, default=None),
        plate_words=" · ".join(
            _plate_words(plate, growths.get(plate.pk)) for plate in positive or plates
        ),
    )


def _plate_words(plate: _Grown, growth: Growth | None) -> str:
    seen = colony_words(plate.state, plate.colonies) if growth is None else growth.words
    return f"{plate.medium}: {seen}" + (f", {plate.organism}" if plate.organism else "")

"""The walk of a trace from touch to touch, in the order of time, by one recursive query.

A touch is one stop of one movement, so that every step of the walk goes forward in time by
itself: along the way of the movement, and from a thing's touch to the next touch of that thing.
Beer and yeast are never freed. Equipment is, by one of two rules: a clean that was released
(``freed_by_clean``), or only a negative plate.
"""

import dataclasses
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any

from django.db import connection

from brewhygiene.batches.models.batches import YeastCrop
from brewhygiene.batches.models.movements import Movement, Touch
from brewhygiene.cellar.models import Fill
from brewhygiene.plates.models import Plate
from brewhygiene.quantities.days import FIRST_YEAR, LAST_YEAR
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import Clean, Turnaround

# What a page can show and a person can decide on; a walk that gets so far says so.
MOST_TOUCHES = 20_000

TABLES = {
    name: f'"{model._meta.db_table}"'
    for name, model in (
        ("touch", Touch),
        ("movement", Movement),
        ("fill", Fill),
        ("crop", YeastCrop),
        ("plate", Plate),
        ("turnaround", Turnaround),
        ("clean", Clean),
        ("decision", Decision),
    )
}
# Whether a clean of the vessel was begun after ``a``, and finished and released before ``b``.
# The turnaround that was open at ``a`` is the first that can have it.
CLEANED = """EXISTS (
    SELECT 1 FROM {turnaround} k JOIN {clean} c ON c.turnaround_id = k.id
    WHERE k.vessel_id = a.vessel_id AND k.opened_at <= b.moved_at AND k.opened_at >= COALESCE(
        (SELECT MAX(o.opened_at) FROM {turnaround} o
         WHERE o.vessel_id = a.vessel_id AND o.opened_at <= a.moved_at), a.moved_at)
    AND c.purpose = 'clean' AND c.started_at >= a.moved_at AND c.finished_at <= b.moved_at
    AND EXISTS (SELECT 1 FROM {decision} d
        WHERE d.turnaround_id = k.id AND d.outcome = 'release' AND d.clean_id >= c.id
        AND d.decided_at <= b.moved_at))"""
NEGATIVE = """EXISTS (
    SELECT 1 FROM {plate} p WHERE p.vessel_id = a.vessel_id AND p.state = 'negative'
    AND p.neutralised AND p.taken_at > a.moved_at AND p.taken_at <= b.moved_at)"""
FORWARD = """
    SELECT CASE w.way
        WHEN 1 THEN CASE
            WHEN t.vessel_id IS NOT NULL THEN (
                SELECT b.id FROM {touch} b JOIN {touch} a ON a.id = t.id
                WHERE b.id = (SELECT n.id FROM {touch} n WHERE n.vessel_id = t.vessel_id
                    AND (n.moved_at, n.id) > (t.moved_at, t.id)
                    ORDER BY n.moved_at, n.id LIMIT 1)
                AND NOT {freed})
            WHEN t.fill_id IS NOT NULL THEN (
                SELECT n.id FROM {touch} n WHERE n.fill_id = t.fill_id
                AND (n.moved_at, n.id) > (t.moved_at, t.id) ORDER BY n.moved_at, n.id LIMIT 1)
            WHEN t.crop_id IS NOT NULL THEN (
                SELECT n.id FROM {touch} n WHERE n.crop_id = t.crop_id
                AND (n.moved_at, n.id) > (t.moved_at, t.id) ORDER BY n.moved_at, n.id LIMIT 1)
            END
        WHEN 2 THEN (
            SELECT n.id FROM {touch} n WHERE t.vessel_id IS NULL
            AND n.movement_id = t.movement_id AND n.place > t.place AND n.vessel_id IS NULL
            ORDER BY n.place LIMIT 1)
        ELSE (
            SELECT n.id FROM {touch} n
            WHERE n.movement_id = t.movement_id AND n.place = t.place + 1)
        END,
        CASE WHEN w.way = 1 THEN r.rank
             WHEN w.way = 3 THEN 3
             WHEN r.rank = 1 AND m.kind IN ('pitch', 'crop') THEN 2
             ELSE r.rank END"""
BACKWARD = """
    SELECT CASE w.way
        WHEN 1 THEN CASE
            WHEN t.vessel_id IS NOT NULL THEN (
                SELECT a.id FROM {touch} a JOIN {touch} b ON b.id = t.id
                WHERE a.id = (SELECT n.id FROM {touch} n WHERE n.vessel_id = t.vessel_id
                    AND (n.moved_at, n.id) < (t.moved_at, t.id)
                    ORDER BY n.moved_at DESC, n.id DESC LIMIT 1)
                AND NOT {freed})
            WHEN t.fill_id IS NOT NULL THEN (
                SELECT n.id FROM {touch} n WHERE n.fill_id = t.fill_id
                AND (n.moved_at, n.id) < (t.moved_at, t.id)
                ORDER BY n.moved_at DESC, n.id DESC LIMIT 1)
            WHEN t.crop_id IS NOT NULL THEN (
                SELECT n.id FROM {touch} n WHERE n.crop_id = t.crop_id
                AND (n.moved_at, n.id) < (t.moved_at, t.id)
                ORDER BY n.moved_at DESC, n.id DESC LIMIT 1)
            END
        ELSE (
            SELECT n.id FROM {touch} n
            WHERE n.movement_id = t.movement_id AND n.place = t.place - 1)
        END, 3"""
OF_TOUCHES = "SELECT s.id, CAST(%s AS integer) FROM {touch} s WHERE s.id IN ({listed})"
OF_PLATE = """
    SELECT s.id, 1 FROM {touch} s WHERE s.fill_id IN (
        SELECT f.id FROM {fill} f
        WHERE f.vessel_id = %s AND f.filled_at >= %s AND f.filled_at < %s)
    UNION SELECT s.id, 2 FROM {touch} s WHERE s.crop_id IN (
        SELECT y.id FROM {crop} y WHERE y.plate_id = %s)"""
# Before and after any record there can be.
FIRST = datetime(FIRST_YEAR, 1, 1, tzinfo=UTC)
LAST = datetime(LAST_YEAR, 12, 31, tzinfo=UTC)
WALK = """
WITH RECURSIVE ways(way) AS (VALUES {ways}),
reached(id, rank) AS (
    {seeds}
    UNION {steps}
    FROM reached r JOIN {touch} t ON t.id = r.id JOIN {movement} m ON m.id = t.movement_id
    CROSS JOIN ways w
)
SELECT t.id, r.rank, t.movement_id, t.moved_at, t.vessel_id, t.fill_id, t.crop_id, t.lot_id
FROM reached r JOIN {touch} t ON t.id = r.id LIMIT {most}"""


@dataclasses.dataclass(frozen=True)
class Reached:
    """One touch that the walk came to, and how near it is: 1 beer, 2 yeast, 3 equipment."""

    touch_pk: int
    rank: int
    movement_pk: int
    moved_at: datetime
    vessel_pk: int | None
    fill_pk: int | None
    crop_pk: int | None
    lot_pk: int | None


@dataclasses.dataclass(frozen=True)
class Seeds:
    """Where a walk begins: a query of touches, with their rank."""

    sql: str
    params: tuple[Any, ...]


def of_touches(touches: Iterable[int], *, rank: int = 1) -> Seeds:
    """Begin at these touches."""
    params = tuple(touches)
    listed = ", ".join(["%s"] * len(params)) or "NULL"
    return Seeds(OF_TOUCHES.replace("{listed}", listed), (rank, *params))


def of_plate(plate: Plate, *, since: datetime | None, until: datetime | None) -> Seeds:
    """Begin at every fill of a plate's vessel in that time, and at the crop that it is of."""
    first, last = since or FIRST, until or LAST
    bounds = (plate.vessel_id, _as_stored(first), _as_stored(last))
    return Seeds(OF_PLATE, (*bounds, plate.pk))


def _as_stored(moment: datetime) -> Any:
    return connection.ops.adapt_datetimefield_value(moment)


def walk_forward(seeds: Seeds, *, freed_by_clean: bool) -> list[Reached]:
    """Every touch that what the seeds carry can have come to. 1 query."""
    return _walk(seeds, FORWARD, "(1), (2), (3)", freed_by_clean=freed_by_clean)


def walk_backward(seeds: Seeds, *, freed_by_clean: bool) -> list[Reached]:
    """Every touch from which it can have come to the seeds. 1 query."""
    return _walk(seeds, BACKWARD, "(1), (2)", freed_by_clean=freed_by_clean)


def _walk(seeds: Seeds, steps: str, ways: str, *, freed_by_clean: bool) -> list[Reached]:
    freed = (CLEANED if freed_by_clean else NEGATIVE).format(**TABLES)
    sql = WALK.format(
        ways=ways,
        seeds=seeds.sql.format(**TABLES),
        steps=steps.format(freed=freed, **TABLES),
        most=MOST_TOUCHES + 1,
        **TABLES,
    )
    with connection.cursor() as cursor:
        cursor.execute(sql, seeds.params)
        rows = cursor.fetchall()
    moment = _moments()
    nearest: dict[int, Reached] = {}
    for pk, rank, movement, moved_at, *things in rows:
        known = nearest.get(pk)
        if known is None or rank < known.rank:
            nearest[pk] = Reached(pk, rank, movement, moment(moved_at), *things)
    return sorted(nearest.values(), key=lambda one: (one.moved_at, one.touch_pk))


def _moments() -> Any:
    """What makes a time of the column as the database gives it, which SQLite gives as text."""
    column = Touch._meta.get_field("moved_at").get_col(Touch._meta.db_table)  # type: ignore[attr-defined]
    converters = connection.ops.get_db_converters(column)

    def moment(value: Any) -> datetime:
        for convert in converters:
            value = convert(value, column, connection)
        return value  # type: ignore[no-any-return]

    return moment

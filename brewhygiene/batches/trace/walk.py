"""The walk of a trace from touch to touch, in the order of time, by one recursive query.

A touch is one stop of one movement, so that every step of the walk goes forward in time by
itself: along the way of the movement, and from a thing's touch to the next touch of that thing.
Beer and yeast are never freed. Equipment is, by one of two rules: a clean that was released
(``freed_by_clean``), or only a negative plate.
"""

import dataclasses
import functools
from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any, NamedTuple

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
# Whether a clean of the vessel was begun after touch ``a``, and finished and released before touch
# ``b``. The turnaround that was open at ``a`` is the first that can have it.
CLEANED = """EXISTS (
    SELECT 1 FROM {turnaround} k JOIN {clean} c ON c.turnaround_id = k.id
    WHERE k.vessel_id = {a}.vessel_id AND k.opened_at <= {b}.moved_at AND k.opened_at >= COALESCE(
        (SELECT MAX(o.opened_at) FROM {turnaround} o
         WHERE o.vessel_id = {a}.vessel_id AND o.opened_at <= {a}.moved_at), {a}.moved_at)
    AND c.purpose = 'clean' AND c.started_at >= {a}.moved_at AND c.finished_at <= {b}.moved_at
    AND EXISTS (SELECT 1 FROM {decision} d
        WHERE d.turnaround_id = k.id AND d.outcome = 'release' AND d.clean_id >= c.id
        AND d.decided_at <= {b}.moved_at))"""
NEGATIVE = """EXISTS (
    SELECT 1 FROM {plate} p WHERE p.vessel_id = {a}.vessel_id AND p.state = 'negative'
    AND p.neutralised AND p.taken_at > {a}.moved_at AND p.taken_at <= {b}.moved_at)"""
# From a touch ``t`` of a thing to the next of it, or to the one before it.
NEXT = """CASE
    WHEN t.vessel_id IS NOT NULL THEN (
        SELECT b.id FROM {touch} b WHERE b.id = (
            SELECT n.id FROM {touch} n WHERE n.vessel_id = t.vessel_id
            AND (n.moved_at, n.id) > (t.moved_at, t.id) ORDER BY n.moved_at, n.id LIMIT 1)
        AND NOT {freed})
    WHEN t.fill_id IS NOT NULL THEN (
        SELECT n.id FROM {touch} n WHERE n.fill_id = t.fill_id
        AND (n.moved_at, n.id) > (t.moved_at, t.id) ORDER BY n.moved_at, n.id LIMIT 1)
    WHEN t.crop_id IS NOT NULL THEN (
        SELECT n.id FROM {touch} n WHERE n.crop_id = t.crop_id
        AND (n.moved_at, n.id) > (t.moved_at, t.id) ORDER BY n.moved_at, n.id LIMIT 1)
    END"""
BEFORE = """CASE
    WHEN t.vessel_id IS NOT NULL THEN (
        SELECT a.id FROM {touch} a WHERE a.id = (
            SELECT n.id FROM {touch} n WHERE n.vessel_id = t.vessel_id
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
    END"""
# To the next stop of the movement, or the one before it; and past the vessels to what it carried.
STOP = """(SELECT n.id FROM {touch} n
    WHERE n.movement_id = t.movement_id AND n.place = t.place {to})"""
CARRIED = """(SELECT n.id FROM {touch} n
    WHERE t.vessel_id IS NULL
    AND n.movement_id = t.movement_id AND n.place > t.place AND n.vessel_id IS NULL
    ORDER BY n.place LIMIT 1)"""
OF_YEAST = "m.kind IN ('pitch', 'crop')"
# Three walks, each from what the one before it came to: with the beer, with its yeast, and along
# all that either touched. A touch is walked on from at its nearest rank alone, since whatever the
# farther ones would find from there has been found.
FORWARD = """
WITH RECURSIVE ways(way) AS (VALUES (1), (2)),
seeds(id, rank) AS ({seeds}),
all_beer(id) AS (
    SELECT id FROM seeds WHERE rank = 1
    UNION SELECT CASE
        WHEN w.way = 1 THEN {next} WHEN NOT {of_yeast} THEN {carried} END
    FROM all_beer r JOIN {touch} t ON t.id = r.id JOIN {movement} m ON m.id = t.movement_id
    CROSS JOIN ways w
),
beer(id) AS (SELECT id FROM all_beer WHERE id IS NOT NULL LIMIT {most}),
all_yeast(id) AS (
    SELECT id FROM (
        SELECT id FROM seeds WHERE rank = 2
        UNION SELECT {carried}
        FROM beer r JOIN {touch} t ON t.id = r.id JOIN {movement} m ON m.id = t.movement_id
        WHERE {of_yeast}) begin_yeast
    UNION SELECT CASE w.way WHEN 1 THEN {next} ELSE {carried} END
    FROM all_yeast r JOIN {touch} t ON t.id = r.id CROSS JOIN ways w
    WHERE r.id NOT IN (SELECT id FROM beer)
),
near(id, rank) AS (
    SELECT id, 1 FROM beer
    UNION ALL SELECT id, 2 FROM (SELECT id FROM all_yeast
        WHERE id IS NOT NULL AND id NOT IN (SELECT id FROM beer) LIMIT {most}) only_yeast
),
all_touched(id) AS (
    SELECT id FROM (
        SELECT id FROM seeds WHERE rank = 3
        UNION SELECT {stop} FROM near r JOIN {touch} t ON t.id = r.id) begin_touched
    UNION SELECT CASE w.way WHEN 1 THEN {next} ELSE {stop} END
    FROM all_touched r JOIN {touch} t ON t.id = r.id CROSS JOIN ways w
    WHERE r.id NOT IN (SELECT id FROM near)
),
reached(id, rank) AS (
    SELECT id, rank FROM near
    UNION ALL SELECT id, 3 FROM (SELECT id FROM all_touched
        WHERE id IS NOT NULL AND id NOT IN (SELECT id FROM near) LIMIT {most}) only_touched
)"""
BACKWARD = """
WITH RECURSIVE ways(way) AS (VALUES (1), (2)),
seeds(id, rank) AS ({seeds}),
behind(id) AS (
    SELECT id FROM seeds
    UNION SELECT CASE w.way WHEN 1 THEN {next} ELSE {stop} END
    FROM behind r JOIN {touch} t ON t.id = r.id CROSS JOIN ways w
),
begun(id, rank) AS (SELECT id, MIN(rank) FROM seeds GROUP BY id),
reached(id, rank) AS (
    SELECT way_back.id, COALESCE(begun.rank, 3) FROM (
        SELECT id FROM behind WHERE id IS NOT NULL LIMIT {most}) way_back
    LEFT JOIN begun ON begun.id = way_back.id
)"""
# A time that is worked out comes as the database keeps it, which ``_moments`` reads once for all
# the stops that have it.
FOUND = """
SELECT t.id, r.rank, t.movement_id, COALESCE(t.moved_at, t.moved_at),
    t.vessel_id, t.fill_id, t.crop_id, t.lot_id
FROM reached r JOIN {touch} t ON t.id = r.id ORDER BY t.moved_at, t.id"""
THINGS = """
SELECT DISTINCT t.vessel_id, t.fill_id, t.crop_id, t.lot_id
FROM reached r JOIN {touch} t ON t.id = r.id"""
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


Thing = tuple[str, int]  # "vessel", "fill", "crop" or "lot", and its key


class Reached(NamedTuple):
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
    """Every touch that what the seeds carry can have come to, at its nearest rank. 1 query."""
    return _touches(_asked(seeds, FORWARD + FOUND, (NEXT, "+ 1"), freed_by_clean=freed_by_clean))


def walk_backward(seeds: Seeds, *, freed_by_clean: bool) -> list[Reached]:
    """Every touch from which it can have come to the seeds. 1 query."""
    return _touches(_asked(seeds, BACKWARD + FOUND, (BEFORE, "- 1"), freed_by_clean=freed_by_clean))


def things_forward(seeds: Seeds, *, freed_by_clean: bool) -> set[Thing]:
    """Every thing that ``walk_forward`` comes to, without when and how. 1 query."""
    rows = _asked(seeds, FORWARD + THINGS, (NEXT, "+ 1"), freed_by_clean=freed_by_clean)
    return {_thing(*things) for things in rows}


def things_of(reached: Iterable[Reached]) -> set[Thing]:
    """Every thing that these are touches of."""
    return {_thing(one.vessel_pk, one.fill_pk, one.crop_pk, one.lot_pk) for one in reached}


def _thing(vessel: int | None, fill: int | None, crop: int | None, lot: int | None) -> Thing:
    """Which one it is, of the four of which a touch has one."""
    if vessel is not None:
        return "vessel", vessel
    if fill is not None:
        return "fill", fill
    if crop is not None:
        return "crop", crop
    assert lot is not None
    return "lot", lot


def _asked(
    seeds: Seeds, query: str, way: tuple[str, str], *, freed_by_clean: bool
) -> list[tuple[Any, ...]]:
    along, to = way
    ends = {"a": "t", "b": "b"} if along is NEXT else {"a": "a", "b": "t"}
    freed = (CLEANED if freed_by_clean else NEGATIVE).format(**ends, **TABLES)
    sql = query.format(
        seeds=seeds.sql.format(**TABLES),
        next=along.format(freed=freed, **TABLES),
        stop=STOP.format(to=to, **TABLES),
        carried=CARRIED.format(**TABLES),
        of_yeast=OF_YEAST,
        most=MOST_TOUCHES + 1,
        **TABLES,
    )
    with connection.cursor() as cursor:
        cursor.execute(sql, seeds.params)
        return cursor.fetchall()


def _touches(rows: list[tuple[Any, ...]]) -> list[Reached]:
    """Rows as touches; where they are too many, the nearest, and one more that tells."""
    moment = functools.cache(_moments())
    if len(rows) > MOST_TOUCHES:
        nearest = sorted(range(len(rows)), key=lambda place: rows[place][1])
        rows = [rows[place] for place in sorted(nearest[: MOST_TOUCHES + 1])]
    return [
        Reached(pk, rank, movement, moment(moved_at), *things)
        for pk, rank, movement, moved_at, *things in rows
    ]


def _moments() -> Any:
    """What makes a time of the column as the database gives it, which SQLite gives as text."""
    column = Touch._meta.get_field("moved_at").get_col(Touch._meta.db_table)  # type: ignore[attr-defined]
    converters = connection.ops.get_db_converters(column)

    def moment(value: Any) -> datetime:
        for convert in converters:
            value = convert(value, column, connection)
        return value  # type: ignore[no-any-return]

    return moment

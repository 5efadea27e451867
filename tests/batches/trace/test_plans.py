"""Every question of a trace goes by an index: none reads a whole table, however much is there."""

import re
from collections.abc import Iterator

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from brewhygiene.batches.models.movements import Movement
from brewhygiene.batches.recall.ways import both_ways
from brewhygiene.batches.trace.ranks import sources_of, trace_of
from tests.batches.corrections.movements.acts import corrected
from tests.batches.scenes import Brewhouse
from tests.batches.test_dumps import dumped

# A table of one row.
SMALL = {"brewhygiene_brewery"}


def read_whole(sql: str) -> Iterator[str]:
    """The tables of ours that a query reads from end to end, or all of an index.

    What a walk has found so far is no table, and no name of it is one in the same query.
    """
    tables = {
        alias or table: table
        for table, alias in re.findall(
            r'"(brewhygiene_\w+)"(?: (?!WHERE|ON|ORDER|INNER)(\w+))?', sql
        )
    }
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {sql.replace('%', '%%')}")
        for *_, step in cursor.fetchall():
            scan = re.match(r"SCAN (\w+)", step)
            if scan is not None and scan.group(1) in tables:
                yield tables[scan.group(1)]


@pytest.mark.parametrize("freed_by_clean", [True, False])
def test_no_question_of_a_trace_reads_a_whole_table(house: Brewhouse, freed_by_clean: bool) -> None:
    house.brewery.clean_frees_equipment = freed_by_clean
    house.brewery.save()
    house.brewed("B1", 1, through=(house.hose,))
    crop = house.cropped("Y-1", 20, generation=1)
    house.moved(house.fv, house.bt, 50, through=(house.hose,))
    house.brewed("B2", 60, vessel=house.fv_2, through=(house.hose,))
    house.pitched(crop, 61, vessel=house.fv_2)
    lot = house.packaged("L-1", house.bt, 70)
    dumped(house, house.bt, 71, volume_hl=1)
    corrected(house, Movement.objects.get(kind="dump"), hours=80, volume_hl=2)
    plate = house.grew(house.fv, -0.1, 100)
    with CaptureQueriesContext(connection) as asked:
        trace = trace_of(plate)
        sources_of(trace)
        both_ways(lot)
    assert len(trace.batches) == 2
    assert len(asked) > 20
    walks = [each["sql"] for each in asked if "RECURSIVE" in each["sql"]]
    assert len(walks) == 4
    found = {table: each["sql"] for each in asked for table in read_whole(each["sql"])}
    assert {table: sql for table, sql in found.items() if table not in SMALL} == {}


def test_a_question_without_an_index_would_be_found(house: Brewhouse) -> None:
    sql = 'SELECT t.id FROM "brewhygiene_touch" t WHERE t.place = 3'
    assert list(read_whole(sql)) == ["brewhygiene_touch"]
    plain = 'SELECT "id" FROM "brewhygiene_touch" WHERE "place" = 3'
    assert list(read_whole(plain)) == ["brewhygiene_touch"]
    assert list(read_whole(f"{sql} AND t.vessel_id = 1")) == []

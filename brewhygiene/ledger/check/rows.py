"""Whether the rows of the tables are as their entries left them."""

import itertools
from collections.abc import Iterable, Iterator
from operator import attrgetter

from django.db import connection

from brewhygiene.ledger.binding import ADOPTED, REBOUND, gone_tables
from brewhygiene.ledger.findings import Finding, Kind
from brewhygiene.ledger.models import Binding, Shape
from brewhygiene.ledger.rows.capture import bound_models
from brewhygiene.ledger.rows.shapes import Row, file_sha256, shape_of
from brewhygiene.ledger.rows.shapes import Shape as Columns

END = 2**63


def check_rows(*, files: bool = True) -> Iterator[Finding]:
    """What does not match its entry, table by table; held a few thousand rows at a time."""
    current = {shape_of(model).table: shape_of(model) for model in bound_models()}
    there = set(connection.introspection.table_names())
    bound = set(Binding.objects.values_list("table", flat=True).distinct().order_by())
    excused = gone_tables() if bound - there else set()
    for table in sorted(bound | set(current)):
        if table not in there:
            if table not in excused:
                yield Finding(Kind.MISSING, f"The table {table} is gone.", table=table)
            continue
        yield from _check_table(table, current.get(table), files=files)


def _check_table(table: str, current: Columns | None, *, files: bool) -> Iterator[Finding]:
    """A merge of a table's rows with what binds them, both in the order of their keys."""
    readers = Readers(table, current)
    bindings = (
        Binding.objects.filter(table=table)
        .select_related("entry")
        .only("table", "row", "shape", "before", "digest", "file", "entry__number", "entry__verb")
        .order_by("row", "id")
        .iterator(chunk_size=5000)
    )
    groups = itertools.groupby(bindings, key=attrgetter("row"))
    rows = readers.all_rows()
    group, row = next(groups, None), next(rows, None)
    while group is not None or row is not None:
        number = group[0] if group is not None else END
        pk = row.pk if row is not None else END
        if pk < number:
            yield _added(table, pk)
            row = next(rows, None)
            continue
        assert group is not None
        history = list(group[1])
        present = row if pk == number else None
        yield from check_history(history, readers.as_bound(history[-1], present), files=files)
        group = next(groups, None)
        if pk == number:
            row = next(rows, None)


def _added(table: str, pk: int) -> Finding:
    return Finding(
        Kind.ADDED, f"Row {pk} of {table} was added without an entry.", table=table, row=pk
    )


def check_history(history: list[Binding], row: Row | None, *, files: bool) -> Iterator[Finding]:
    """What is wrong with one row, by everything that ever bound it, the newest last."""
    latest = history[-1]
    about = f"Row {latest.row} of {latest.table}"
    said = f"entry {latest.entry.number} ({latest.entry.verb})"
    place = {"table": latest.table, "row": latest.row}
    for earlier, later in itertools.pairwise([None, *history]):
        was = earlier.digest if earlier is not None else ""
        anew = later is not None and later.entry.verb in (ADOPTED, REBOUND)
        if later is not None and later.before != was and not anew:
            yield Finding(
                Kind.CHANGED,
                f"{about} was changed without an entry before entry {later.entry.number} "
                f"({later.entry.verb}).",
                **place,  # type: ignore[arg-type]
            )
    if row is None and latest.digest:
        yield Finding(Kind.MISSING, f"{about} is gone; last bound by {said}.", **place)  # type: ignore[arg-type]
    elif row is not None and not latest.digest:
        yield Finding(Kind.ADDED, f"{about} is there, though {said} removed it.", **place)  # type: ignore[arg-type]
    elif row is not None and row.digest != latest.digest:
        yield Finding(Kind.CHANGED, f"{about} is not what {said} bound.", **place)  # type: ignore[arg-type]
    elif row is not None and files and row.file:
        found = file_sha256(row.file)
        if not found:
            yield Finding(
                Kind.MISSING,
                f"{about}: its file {row.file} is gone.",
                file=row.file,
                **place,  # type: ignore[arg-type]
            )
        elif found != latest.file:
            yield Finding(
                Kind.CHANGED,
                f"{about}: its file {row.file} is not what {said} bound.",
                file=row.file,
                **place,  # type: ignore[arg-type]
            )


class Readers:
    """A table's rows, read by the columns that each was bound by."""

    def __init__(self, table: str, current: Columns | None) -> None:
        self._current = current
        self._by_shape: dict[str, dict[int, Row]] = {}
        self._table = table
        self._known: dict[str, Columns] = {}
        with connection.cursor() as cursor:
            described = connection.introspection.get_table_description(cursor, table)
        columns = {column.name for column in described}
        tables = set(connection.introspection.table_names())
        for kept in Shape.objects.filter(table=table):
            shape = Columns(table, tuple(tuple(column) for column in kept.columns))
            if shape.is_readable(columns, tables):
                self._known[shape.digest] = shape
        # Before a migration the table is not yet what the models say.
        if current is not None and not current.is_readable(columns, tables):
            self._current = next(reversed(self._known.values()), None)

    def all_rows(self) -> Iterator[Row]:
        return self._current.read_all() if self._current is not None else iter(())

    def as_bound(self, latest: Binding, row: Row | None) -> Row | None:
        """A row as the columns of its newest binding show it. 1 query where these are others."""
        current = self._current
        if row is None or current is None or latest.shape == current.digest:
            return row
        shape = self._known.get(latest.shape)
        return shape.read([row.pk]).get(row.pk, row) if shape is not None else row


def latest_of(keys: Iterable[tuple[str, int]]) -> dict[tuple[str, int], list[Binding]]:
    """Everything that bound these rows, by table and row. 1 query."""
    from django.db.models import Q

    by_table: dict[str, list[int]] = {}
    for table, pk in keys:
        by_table.setdefault(table, []).append(pk)
    where = Q(pk__in=[])
    for table, pks in by_table.items():
        where |= Q(table=table, row__in=pks)
    found: dict[tuple[str, int], list[Binding]] = {}
    for one in Binding.objects.filter(where).select_related("entry").order_by("id"):
        found.setdefault((one.table, one.row), []).append(one)
    return found

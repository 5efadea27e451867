"""Binding rows that no entry has bound yet, or has bound by columns that a table no longer has.

Once, when a database of an earlier version is taken over, and again where a later version has
changed a table. Such an entry says what the rows were when it was written, and nothing of before.
"""

from collections.abc import Iterable, Iterator
from datetime import datetime
from itertools import islice
from typing import Any, TypeVar

from django.db import connection
from django.db.models import Max
from django.utils import timezone

from brewhygiene.ledger.binding import ADOPTED, REBOUND, WHY, binding, gone_tables, keep_shapes
from brewhygiene.ledger.check.rows import check_rows
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.ledger.recording import Actor, append, chain_held
from brewhygiene.ledger.rows.capture import bound_models
from brewhygiene.ledger.rows.shapes import shape_of

T = TypeVar("T")

# Few enough that the rows of one record lead to few others.
ROWS_AN_ENTRY = 500

_found_changed: set[tuple[str, int]] = set()


def take_over(**_: Any) -> None:
    """After a migration: keep the shapes, and bind what has to be bound anew."""
    keep_shapes()
    if not Entry.objects.filter(format=2).exists():
        bind_unbound(now=timezone.now())
    else:
        bind_changed_tables(now=timezone.now())
    _found_changed.clear()


def bind_unbound(*, now: datetime) -> int:
    """Bind every row that no entry has bound; how many that were."""
    count = 0
    with chain_held():
        for model in bound_models():
            table = shape_of(model).table
            known = _latest(table)
            count += _write(
                ADOPTED,
                table,
                (
                    binding(shape_of(model), row.pk, row, before="")
                    for row in shape_of(model).read_all()
                    if row.pk not in known
                ),
                now=now,
            )
    return count


def bind_changed_tables(*, now: datetime) -> int:
    """Bind the rows anew whose table has other columns since; how many that were.

    A row that did not match its entry before the migration stays as it is: it goes on not matching.
    """
    count = 0
    with chain_held():
        for model in bound_models():
            shape = shape_of(model)
            old = {
                row
                for row, (kept, digest) in _latest(shape.table).items()
                if kept != shape.digest and digest
            }
            if not old:
                continue
            rows = (row for row in shape.read_all() if row.pk in old)
            count += _write(
                REBOUND,
                shape.table,
                (
                    binding(shape, row.pk, row, before="")
                    for row in rows
                    if (shape.table, row.pk) not in _found_changed
                ),
                now=now,
            )
        count += _bind_renamed(now=now)
    return count


def _bind_renamed(*, now: datetime) -> int:
    """Bind the rows of a table that has no bindings, where another that had some is gone."""
    bound = set(Binding.objects.values_list("table", flat=True).distinct().order_by())
    tables = {shape_of(model).table: model for model in bound_models()}
    gone = bound - set(connection.introspection.table_names()) - gone_tables()
    if not gone:
        return 0
    count = 0
    for table in sorted(set(tables) - bound):
        shape = shape_of(tables[table])
        rows = (binding(shape, row.pk, row, before="") for row in shape.read_all())
        count += _write(REBOUND, table, rows, now=now, tables_gone=sorted(gone))
    return count


def note_changed(**_: Any) -> None:
    """Before a migration, while old columns can still be read: which rows do not match already."""
    _found_changed.clear()
    tables = set(connection.introspection.table_names())
    if not {Binding._meta.db_table, "brewhygiene_shape"} <= tables:
        return
    _found_changed.update((found.table, found.row) for found in check_rows(files=False))


def _latest(table: str) -> dict[int, tuple[str, str]]:
    """The newest binding of each row of a table: its shape and its hash. 1 query."""
    newest = (
        Binding.objects.filter(table=table)
        .values("row")
        .annotate(newest=Max("id"))
        .values("newest")
    )
    found = Binding.objects.filter(pk__in=newest).values_list("row", "shape", "digest")
    return {row: (shape, digest) for row, shape, digest in found.order_by("id")}


def _write(
    name: str, table: str, bindings: Iterable[Binding], *, now: datetime, **values: Any
) -> int:
    """One entry for each few hundred rows, by nobody."""
    count = 0
    for part in _parts(bindings):
        first, last = part[0].row, part[-1].row
        append(
            name=name,
            by=Actor(user=None, now=now),
            subject=(table, first, f"{len(part)} rows of {table}, {first} to {last}"),
            values={"table": table, "rows": len(part), "why": WHY[name], **values},
            bindings=part,
        )
        count += len(part)
    return count


def _parts(items: Iterable[T]) -> Iterator[list[T]]:
    rest = iter(items)
    while part := list(islice(rest, ROWS_AN_ENTRY)):
        yield part

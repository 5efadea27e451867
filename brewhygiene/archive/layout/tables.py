"""Which tables an archive holds, in which order, and how their values become JSON and back."""

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, time
from typing import Any

from django.apps import apps as current_apps
from django.apps.registry import Apps
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

# Who is signed in and who tried to is nothing to carry over: everybody signs in again.
LEFT_OUT = frozenset(
    {
        "django_session",
        "axes_accessattempt",
        "axes_accessattemptexpiration",
    }
)
BATCH = 1000

Model = type[models.Model]
Columns = Sequence["models.Field[Any, Any]"]


def applied_migrations(connection: BaseDatabaseWrapper) -> list[tuple[str, str]]:
    """The migrations a database has had, by application and name. 2 queries."""
    return sorted(MigrationRecorder(connection).applied_migrations())


def apps_at(applied: Iterable[tuple[str, str]]) -> Apps:
    """The models as they were when just these migrations had run.

    Today's own where nothing is missing. Raises ``KeyError`` for a migration that this version
    does not have.
    """
    loader = MigrationLoader(None)
    applied = list(applied)
    known = set(loader.disk_migrations)
    if unknown := set(applied) - known:
        raise KeyError(max(unknown))
    if set(applied) == known:
        return current_apps
    return loader.project_state(last_of(applied, loader)).apps


def last_of(applied: Iterable[tuple[str, str]], loader: MigrationLoader) -> list[tuple[str, str]]:
    """Those of the migrations that no other of them builds on."""
    wanted = {key for key in applied if key in loader.graph.nodes}
    nodes = loader.graph.node_map
    return sorted(
        key for key in wanted if not any(child.key in wanted for child in nodes[key].children)
    )


def tables_of(apps: Apps) -> list[Model]:
    """Every table with rows of its own, each after those it points to where that can be."""
    waiting = {
        model._meta.db_table: model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed and not model._meta.proxy and not model._meta.swapped
    }
    for name in LEFT_OUT:
        waiting.pop(name, None)
    ordered: list[Model] = []
    while waiting:
        free = [
            name
            for name, model in sorted(waiting.items())
            if not any(target in waiting and target != name for target in _targets(model))
        ]
        # A circle: constraints are checked at the end of the transaction, so any order will do.
        for name in free or [min(waiting)]:
            ordered.append(waiting.pop(name))
    return ordered


def _targets(model: Model) -> Iterator[str]:
    for field in model._meta.local_concrete_fields:
        if field.remote_field is not None and not isinstance(field.remote_field.model, str):
            yield field.remote_field.model._meta.db_table


def columns_of(model: Model) -> Columns:
    return list(model._meta.local_concrete_fields)


def column_names(model: Model) -> list[str]:
    return [str(field.column) for field in columns_of(model)]


# To JSON and back


def _as_json(value: Any) -> Any:
    """A column's value as JSON has it. Times are in UTC with all their digits."""
    if isinstance(value, datetime):
        moment = value if value.tzinfo else value.replace(tzinfo=UTC)
        return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, bytes | memoryview):
        return bytes(value).hex()
    if value is None or isinstance(value, bool | int | float | str):
        return value
    return str(value)


def _as_is(value: Any) -> Any:
    return value


def writers_of(columns: Columns) -> list[Callable[[Any], Any]]:
    """For each column what makes JSON of its value."""
    return [_as_is if isinstance(field, models.JSONField) else _as_json for field in columns]


def line_of(names: Sequence[str], values: Sequence[Any]) -> bytes:
    """One row as a line of JSON."""
    row = dict(zip(names, values, strict=True))
    text = json.dumps(row, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.encode() + b"\n"


def _reader_of(field: "models.Field[Any, Any]") -> Callable[[Any], Any]:
    plain = field.target_field if isinstance(field, models.ForeignKey) else field
    if isinstance(plain, models.JSONField):
        return _as_is
    if isinstance(plain, models.BinaryField):
        return lambda value: None if value is None else bytes.fromhex(value)
    return plain.to_python


def readers_of(columns: Columns, connection: BaseDatabaseWrapper) -> list[Callable[[Any], Any]]:
    """For each column what makes of its JSON what the database's own driver takes.

    A value that the column would not hold raises ``ValidationError``, ``ValueError`` or
    ``TypeError``.
    """

    def reader(field: "models.Field[Any, Any]") -> Callable[[Any], Any]:
        read = _reader_of(field)
        return lambda value: field.get_db_prep_save(read(value), connection)

    return [reader(field) for field in columns]


def insert_rows(
    model: Model, rows: Iterable[dict[str, Any]], *, connection: BaseDatabaseWrapper
) -> int:
    """Write rows as they are, ids included, in batches; how many there were."""
    columns = columns_of(model)
    names = column_names(model)
    readers = readers_of(columns, connection)
    quote = connection.ops.quote_name
    statement = (
        f"INSERT INTO {quote(model._meta.db_table)} "  # noqa: S608 - names of our own tables
        f"({', '.join(map(quote, names))}) VALUES ({', '.join(['%s'] * len(names))})"
    )
    count = 0
    batch: list[list[Any]] = []
    with connection.cursor() as cursor:
        for row in rows:
            if row.keys() != set(names):
                raise ValueError(f"{model._meta.db_table} has other columns.")
            batch.append([read(row[name]) for name, read in zip(names, readers, strict=True)])
            if len(batch) == BATCH:
                cursor.executemany(statement, batch)
                count += len(batch)
                batch = []
        if batch:
            cursor.executemany(statement, batch)
            count += len(batch)
    return count


# The next id of each table


def next_ids(models_: Iterable[Model], connection: BaseDatabaseWrapper) -> dict[str, int]:
    """The largest id that each table ever gave, also where that row is gone. 1 query a table.

    An id is never given twice: the ledger names rows by it.
    """
    found = {}
    with connection.cursor() as cursor:
        for model in models_:
            table, key = model._meta.db_table, model._meta.pk
            if not isinstance(key, models.AutoField | models.BigAutoField | models.SmallAutoField):
                continue
            if connection.vendor == "sqlite":
                cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
            else:
                quoted = connection.ops.quote_name(table)
                cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [quoted, str(key.column)])
                sequence = cursor.fetchone()[0]
                cursor.execute(f"SELECT last_value FROM {sequence} WHERE is_called")  # noqa: S608
            row = cursor.fetchone()
            if row is not None and row[0]:
                found[table] = int(row[0])
    return found


def set_next_ids(
    models_: Iterable[Model], given: dict[str, int], connection: BaseDatabaseWrapper
) -> None:
    """Let every table go on after the largest id that it ever gave."""
    with connection.cursor() as cursor:
        for model in models_:
            table, key = model._meta.db_table, model._meta.pk
            if not isinstance(key, models.AutoField | models.BigAutoField | models.SmallAutoField):
                continue
            quote = connection.ops.quote_name
            cursor.execute(f"SELECT MAX({quote(str(key.column))}) FROM {quote(table)}")  # noqa: S608
            largest = max(cursor.fetchone()[0] or 0, given.get(table, 0))
            if not largest:
                continue
            if connection.vendor == "sqlite":
                cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table])
                cursor.execute(
                    "INSERT INTO sqlite_sequence (name, seq) VALUES (%s, %s)", [table, largest]
                )
            else:
                cursor.execute(
                    "SELECT setval(pg_get_serial_sequence(%s, %s), %s)",
                    [quote(table), str(key.column), largest],
                )

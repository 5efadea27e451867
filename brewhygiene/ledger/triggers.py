"""The database itself refuses to change evidence and entries.

On every table of evidence and of the ledger stand triggers that refuse a row's removal, and its
change but for the columns that its model names; on PostgreSQL one more refuses TRUNCATE. They are
put in place after every migration, since SQLite builds a changed table anew without them, and are
taken away before one, so that it may move what it has to. Somebody with the database's own
password can take them away too: ``check_ledger`` then says so.
"""

import dataclasses
from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import connection, models, transaction

from brewhygiene.ledger.places import Evidence, LedgerItself

_MARK = "keeps_"
_TRUTHFUL = "evidence is appended, never changed"


@dataclasses.dataclass(frozen=True)
class Trigger:
    """One trigger, its table, and the statement that makes it."""

    name: str
    table: str
    sql: str


def guarded_models() -> list[type[models.Model]]:
    """The tables that only grow."""
    found = [m for m in apps.get_models() if issubclass(m, Evidence | LedgerItself)]
    return sorted(found, key=lambda model: model._meta.db_table)


def triggers_of(model: type[models.Model]) -> Iterator[Trigger]:
    """The triggers that a model's table has to have."""
    table = model._meta.db_table
    yield _refusing(table, "delete", "DELETE")
    yield _refusing(table, "update", "UPDATE", when=_changed(model))
    if connection.vendor == "postgresql":
        yield _refusing(table, "truncate", "TRUNCATE")
    for many in model._meta.local_many_to_many:
        linking: Any = many.remote_field.through
        through = linking._meta.db_table
        for what in ("delete", "update"):
            yield _refusing(through, what, what.upper())
        if connection.vendor == "postgresql":
            yield _refusing(through, "truncate", "TRUNCATE")


def wanted() -> list[Trigger]:
    return [trigger for model in guarded_models() for trigger in triggers_of(model)]


def _changed(model: type[models.Model]) -> str:
    """SQL: whether an update changes what may not be changed."""
    once: frozenset[str] = getattr(model, "set_once", frozenset())
    free: frozenset[str] = getattr(model, "may_change", frozenset())
    parts = []
    for field in model._meta.concrete_fields:
        if field.name in free:
            continue
        column = connection.ops.quote_name(str(field.column))
        differs = f"NEW.{column} IS NOT OLD.{column}"
        nothing = f"OLD.{column} IS NOT NULL"
        if connection.vendor == "postgresql":
            differs = f"NEW.{column}::text IS DISTINCT FROM OLD.{column}::text"
        if field.name in once:
            if field.get_internal_type() in ("CharField", "TextField"):
                nothing = f"OLD.{column} <> ''"
            differs = f"({differs} AND {nothing})"
        parts.append(differs)
    return " OR ".join(parts)


def _refusing(table: str, what: str, event: str, when: str = "") -> Trigger:
    name, q = f"{_MARK}{table}_{what}", connection.ops.quote_name
    message = f"{table}: {_TRUTHFUL}"
    if connection.vendor == "postgresql":
        each = "STATEMENT" if event == "TRUNCATE" else "ROW"
        sql = (
            f"CREATE TRIGGER {q(name)} BEFORE {event} ON {q(table)} FOR EACH {each} "
            + (f"WHEN ({when}) " if when else "")
            + "EXECUTE FUNCTION brewhygiene_refuse_change()"
        )
    else:
        sql = (
            f"CREATE TRIGGER {q(name)} BEFORE {event} ON {q(table)} FOR EACH ROW "
            + (f"WHEN {when} " if when else "")
            + f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
        )
    return Trigger(name, table, sql)


_FUNCTION = f"""
CREATE OR REPLACE FUNCTION brewhygiene_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN RAISE EXCEPTION '%: {_TRUTHFUL}', TG_TABLE_NAME USING ERRCODE = 'raise_exception'; END $$
"""


def standing() -> dict[str, str]:
    """The triggers of ours that stand now, by name: on SQLite with their text. 1 query.

    On PostgreSQL the text is 'on' or, where somebody has switched one off, 'off'.
    """
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT tgname, CASE WHEN tgenabled IN ('O', 'A') THEN 'on' ELSE 'off' END"
                " FROM pg_trigger JOIN pg_class ON pg_class.oid = tgrelid"
                " WHERE NOT tgisinternal AND starts_with(tgname, %s)"
                " AND pg_table_is_visible(pg_class.oid)",
                [_MARK],
            )
        else:
            cursor.execute(
                "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
                " AND substr(name, 1, %s) = %s",
                [len(_MARK), _MARK],
            )
        return dict(cursor.fetchall())


def missing() -> list[Trigger]:
    """Triggers that are gone, switched off, or say something else. 1 query, or 2."""
    there = standing()
    gone = []
    for trigger in wanted():
        text = there.get(trigger.name[:63])
        if connection.vendor == "postgresql":
            if text != "on":
                gone.append(trigger)
        elif text != trigger.sql:
            gone.append(trigger)
    if connection.vendor == "postgresql" and not gone and not _function_stands():
        return wanted()
    return gone


def _function_stands() -> bool:
    with connection.cursor() as cursor:
        cursor.execute("SELECT prosrc FROM pg_proc WHERE proname = 'brewhygiene_refuse_change'")
        found = cursor.fetchall()
    body = _FUNCTION.split("$$")[1]
    return [source for (source,) in found] == [body]


def install(**_: Any) -> None:
    """Put every trigger in place that is not there as it should be."""
    gone = missing()
    if not gone:
        return
    with transaction.atomic(), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(_FUNCTION)
        for trigger in gone:
            _drop(cursor, trigger)
            cursor.execute(trigger.sql)


def remove(tables: set[str] | None = None) -> None:
    """Take the triggers of some tables away, or all: for a migration, which may move rows."""
    there = standing()
    with transaction.atomic(), connection.cursor() as cursor:
        for trigger in wanted():
            if trigger.name[:63] in there and (tables is None or trigger.table in tables):
                _drop(cursor, trigger)


def _drop(cursor: Any, trigger: Trigger) -> None:
    q = connection.ops.quote_name
    on = f" ON {q(trigger.table)}" if connection.vendor == "postgresql" else ""
    cursor.execute(f"DROP TRIGGER IF EXISTS {q(trigger.name)}{on}")

"""How a table's rows become text: which columns, of which kind, in which order.

A shape is known by the hash of its own text and kept in the database, so that a row bound by an
earlier version of the product can still be read as it was bound.
"""

import dataclasses
import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, time
from typing import Any

from django.core.files.storage import default_storage
from django.db import connection, models

from brewhygiene.ledger.hashing.canonical import canonical, digest_of

_KINDS = {
    "AutoField": "integer",
    "BigAutoField": "integer",
    "BigIntegerField": "integer",
    "IntegerField": "integer",
    "PositiveBigIntegerField": "integer",
    "PositiveIntegerField": "integer",
    "PositiveSmallIntegerField": "integer",
    "SmallIntegerField": "integer",
    "BooleanField": "boolean",
    "FloatField": "number",
    "CharField": "text",
    "TextField": "text",
    "EmailField": "text",
    "SlugField": "text",
    "FileField": "file",
    "ImageField": "file",
    "DateTimeField": "moment",
    "DateField": "date",
    "TimeField": "time",
    "JSONField": "json",
}
# SQLite takes no more parameters than this at once in old builds.
_AT_ONCE = 500


class CannotBeBound(TypeError):
    """A column of a kind that has no canonical text yet."""


@dataclasses.dataclass(frozen=True)
class Row:
    """One row as it stands: its canonical text, and the name of its file where it has one."""

    pk: int
    text: str
    file: str = ""

    @property
    def digest(self) -> str:
        return digest_of(self.text)


@dataclasses.dataclass(frozen=True)
class Shape:
    """A table's columns with their kinds; a set of links is ``many`` with its table's names."""

    table: str
    columns: tuple[tuple[str, ...], ...]

    @property
    def text(self) -> str:
        return canonical([self.table, [list(column) for column in self.columns]])

    @property
    def digest(self) -> str:
        """A hash of its text, 128 bits in hex."""
        return digest_of(self.text)[:32]

    @property
    def key(self) -> str:
        """The column that numbers the rows; always the first."""
        return self.columns[0][0]

    @property
    def plain(self) -> list[tuple[str, ...]]:
        return [column for column in self.columns if column[1] != "many"]

    @property
    def many(self) -> list[tuple[str, ...]]:
        return [column for column in self.columns if column[1] == "many"]

    @property
    def file_at(self) -> int | None:
        """Which of the plain columns names a file, if one does."""
        return next((n for n, column in enumerate(self.plain) if column[1] == "file"), None)

    def rows(self, raws: Iterable[Sequence[Any]], links: "Links | None" = None) -> Iterator[Row]:
        """Rows from what the database gave for the plain columns. No query."""
        names = [name for name, *_ in self.columns]
        kinds = [kind for _, kind, *_ in self.plain]
        file_at = self.file_at
        for raw in raws:
            values = [_VALUE[kind](value) for kind, value in zip(kinds, raw, strict=True)]
            pk = values[0]
            values += [(links or {}).get(name, {}).get(pk, []) for name, *_ in self.many]
            text = canonical([self.table, dict(zip(names, values, strict=True))])
            yield Row(pk, text, "" if file_at is None else values[file_at] or "")

    def read(self, pks: Iterable[int]) -> dict[int, Row]:
        """The rows with these keys that there are, each by its key. 1 query each 500, and links."""
        found: dict[int, Row] = {}
        wanted = sorted(set(pks))
        for start in range(0, len(wanted), _AT_ONCE):
            some = wanted[start : start + _AT_ONCE]
            marks = ", ".join(["%s"] * len(some))
            with connection.cursor() as cursor:
                cursor.execute(f"{self._select()} WHERE {_q(self.key)} IN ({marks})", some)
                raws = cursor.fetchall()
            found |= {row.pk: row for row in self.rows(raws, self.links(some))}
        return found

    def read_all(self) -> Iterator[Row]:
        """Every row of the table, in the order of their keys; held a few thousand at a time."""
        links, after = self.links(None), None
        while True:
            where = "" if after is None else f" WHERE {_q(self.key)} > %s"
            with connection.cursor() as cursor:
                cursor.execute(
                    f"{self._select()}{where} ORDER BY {_q(self.key)} LIMIT 2000",
                    [] if after is None else [after],
                )
                raws = cursor.fetchall()
            if not raws:
                return
            yield from self.rows(raws, links)
            after = raws[-1][0]

    def links(self, pks: Sequence[int] | None) -> "Links":
        """What each row is linked to, by column; of all rows where no keys are given."""
        found: Links = {}
        for name, _, table, own, other in self.many:
            by_row: dict[int, list[int]] = {}
            where = "" if pks is None else f" WHERE {_q(own)} IN ({', '.join(['%s'] * len(pks))})"
            with connection.cursor() as cursor:
                cursor.execute(
                    f"SELECT {_q(own)}, {_q(other)} FROM {_q(table)}{where}"  # noqa: S608
                    f" ORDER BY {_q(own)}, {_q(other)}",
                    pks or [],
                )
                for pk, linked in cursor.fetchall():
                    by_row.setdefault(pk, []).append(linked)
            found[name] = by_row
        return found

    def is_readable(self, columns: set[str], tables: set[str]) -> bool:
        """Whether a table with these columns, beside these tables, can still be read so."""
        return {name for name, *_ in self.plain} <= columns and {
            column[2] for column in self.many
        } <= tables

    def _select(self) -> str:
        names = ", ".join(_q(name) for name, *_ in self.plain)
        return f"SELECT {names} FROM {_q(self.table)}"  # noqa: S608 - names of our own models


Links = dict[str, dict[int, list[int]]]


_shapes: dict[type[models.Model], Shape] = {}


def _q(name: str) -> str:
    return connection.ops.quote_name(name)


def shape_of(model: type[models.Model]) -> Shape:
    """A model's shape as it is now: all its columns but those declared unbound."""
    if model in _shapes:
        return _shapes[model]
    unbound: frozenset[str] = getattr(model, "unbound", frozenset())
    columns: list[tuple[str, ...]] = []
    pk = model._meta.pk
    fields = sorted(model._meta.concrete_fields, key=lambda field: (field is not pk, field.column))
    for field in fields:
        if field.name not in unbound:
            columns.append((str(field.column), kind_of(field)))
    if sum(kind == "file" for _, kind in columns) > 1:
        raise CannotBeBound(f"{model.__name__} names more than one file.")
    for many in sorted(model._meta.local_many_to_many, key=lambda field: field.name):
        through: Any = many.remote_field.through
        if many.name not in unbound and through._meta.auto_created:
            columns.append(
                (
                    many.name,
                    "many",
                    through._meta.db_table,
                    many.m2m_column_name(),
                    many.m2m_reverse_name(),
                )
            )
    _shapes[model] = Shape(model._meta.db_table, tuple(columns))
    return _shapes[model]


def kind_of(field: "models.Field[Any, Any]") -> str:
    """The kind of a column; raises :class:`CannotBeBound` where it has no canonical text."""
    while field.remote_field is not None and isinstance(field, models.ForeignKey):
        field = field.target_field
    try:
        return _KINDS[field.get_internal_type()]
    except KeyError:
        raise CannotBeBound(f"{field} is a {field.get_internal_type()}.") from None


def file_sha256(name: str) -> str:
    """SHA-256 of a stored file in hex, '' where it is not there."""
    if not name or not default_storage.exists(name):
        return ""
    digest = hashlib.sha256()
    with default_storage.open(name, "rb") as file:
        while chunk := file.read(1 << 20):
            digest.update(chunk)
    return digest.hexdigest()


def moment_text(value: datetime) -> str:
    """A moment in UTC, always with six digits of a second."""
    value = value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
    return value.replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


def _moment(value: Any) -> str | None:
    if isinstance(value, str):
        value = datetime.fromisoformat(value)
    return None if value is None else moment_text(value)


def _date(value: date | str | None) -> str | None:
    return value if value is None or isinstance(value, str) else value.isoformat()


def _time(value: Any) -> str | None:
    if isinstance(value, str):
        value = time.fromisoformat(value)
    return None if value is None else value.isoformat(timespec="microseconds")


_VALUE: dict[str, Any] = {
    "integer": lambda value: value,
    "boolean": lambda value: None if value is None else bool(value),
    "number": lambda value: None if value is None else float(value),
    "text": lambda value: value,
    "file": lambda value: value,
    "moment": _moment,
    "date": _date,
    "time": _time,
    # As text where the driver leaves it so, which both of ours do.
    "json": lambda value: json.loads(value) if isinstance(value, str) else value,
}

"""Noticing which bound rows an action writes, whichever way it writes them.

While an action runs, a row that is about to change is read as it was, and every row written is
remembered until the action's entry binds it. What writes a bound table past these ways is refused
at the end of the action (:class:`UnboundWrite`), so that no new way is forgotten.
"""

import re
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, models
from django.db.models.query import QuerySet
from django.db.models.signals import m2m_changed, post_save, pre_delete, pre_save

from brewhygiene.ledger.rows.shapes import shape_of

Key = tuple[type[models.Model], int]

_WRITES = re.compile(r'\s*(?:INSERT INTO|UPDATE|DELETE FROM|REPLACE INTO) "?(\w+)', re.IGNORECASE)


class UnboundWrite(RuntimeError):
    """An action wrote a bound table in a way that cannot be bound to its entry."""


class Capture:
    """The rows that one action wrote, each with the hash of what it was ('' where it was not)."""

    def __init__(self, outer: "Capture | None") -> None:
        self.outer = outer
        self.before: dict[Key, str] = {}
        self.taken: list[tuple[Capture, Key, str]] = []
        self.written: set[str] = set()
        self.excused: set[str] = set()

    def knows(self, key: Key) -> bool:
        """Whether what the row was is known; taken over from the action around this one."""
        if key in self.before:
            return True
        outer = self.outer
        while outer is not None:
            if key in outer.before:
                # This action's entry comes first, so it tells the whole change up to its end.
                self.before[key] = outer.before.pop(key)
                self.taken.append((outer, key, self.before[key]))
                return True
            outer = outer.outer
        return False

    def give_back(self) -> None:
        """The action came to nothing: what it took over is the outer action's again."""
        for outer, key, before in self.taken:
            outer.before.setdefault(key, before)

    def refuse_unbound(self) -> None:
        """Raise :class:`UnboundWrite` where a bound table was written and no row remembered."""
        known = {shape_of(model).table for model, _ in self.before} | self.excused
        known |= {shape_of(model).table for _, (model, _), _ in self.taken}
        for model, _ in self.before:
            known |= {column[2] for column in shape_of(model).many}
        if missed := (self.written & bound_tables()) - known:
            raise UnboundWrite(
                f"Written without being bound to an entry: {', '.join(sorted(missed))}."
            )


class _Local(threading.local):
    capture: Capture | None = None


_local = _Local()


def is_bound(model: type[models.Model]) -> bool:
    """Whether entries bind this table's rows: it says which of its columns they leave out."""
    return hasattr(model, "unbound")


def _unbound(model: type[models.Model]) -> frozenset[str]:
    return getattr(model, "unbound", frozenset())


def bound_models() -> list[type[models.Model]]:
    """Every table whose rows are bound, in the order of their names."""
    from django.apps import apps

    found = [model for model in apps.get_models() if is_bound(model)]
    return sorted(found, key=lambda model: model._meta.db_table)


_tables: set[str] = set()


def bound_tables() -> set[str]:
    """Names of the tables that entries bind, those of links included."""
    if not _tables:
        for model in bound_models():
            shape = shape_of(model)
            _tables.update({shape.table}, (column[2] for column in shape.many))
    return _tables


@contextmanager
def capturing() -> Iterator[Capture]:
    """Remember what is written until the end; nests, each for itself."""
    outer = _local.capture
    _local.capture = capture = Capture(outer)
    try:
        if outer is None:
            with connection.execute_wrapper(_note_table):
                yield capture
        else:
            yield capture
    except BaseException:
        capture.give_back()
        raise
    finally:
        _local.capture = outer


def _note_table(
    execute: Callable[..., Any], sql: str, params: Any, many: bool, context: dict[str, Any]
) -> Any:
    if (match := _WRITES.match(sql)) and _local.capture is not None:
        _local.capture.written.add(match[1])
    return execute(sql, params, many, context)


def will_change(model: type[models.Model], pks: Iterable[int]) -> None:
    """Rows are about to change or go: read what they are. 1 query unless known, and links."""
    capture = _local.capture
    if capture is None:
        return
    concrete: type[models.Model] = model._meta.concrete_model or model
    unknown = [pk for pk in pks if not capture.knows((concrete, pk))]
    if unknown:
        found = shape_of(concrete).read(unknown)
        for pk in unknown:
            capture.before[concrete, pk] = found[pk].digest if pk in found else ""


def will_update(queryset: "QuerySet[Any]", names: Iterable[str]) -> None:
    """A queryset's rows are about to be updated: read what they are. 1 query, and links."""
    capture = _local.capture
    if capture is None:
        return
    model = queryset.model
    if model.unbound.issuperset(names):
        capture.excused.add(model._meta.db_table)
        return
    shape = shape_of(model)
    by_column = {field.column: field.attname for field in model._meta.concrete_fields}
    chosen = queryset.order_by().values_list(*(by_column[name] for name, *_ in shape.plain))
    sql, params = chosen.query.sql_with_params()
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        raws = cursor.fetchall()
    links = shape.links([raw[0] for raw in raws]) if raws and shape.many else None
    for row in shape.rows(raws, links):
        if not capture.knows((model, row.pk)):
            capture.before[model, row.pk] = row.digest
    capture.excused.add(shape.table)  # it may have met no row


def was_made(records: Iterable[models.Model]) -> None:
    """Rows were inserted."""
    capture = _local.capture
    if capture is None:
        return
    for record in records:
        key = (type(record)._meta.concrete_model or type(record), record.pk)
        if not capture.knows(key):
            capture.before[key] = ""


def _on_pre_save(
    sender: type[models.Model], instance: models.Model, update_fields: Any = None, **_: Any
) -> None:
    if _local.capture is None or not is_bound(sender) or instance.pk is None:
        return
    if update_fields and _unbound(sender).issuperset(update_fields):
        _local.capture.excused.add(sender._meta.db_table)
        return
    will_change(sender, [instance.pk])


def _on_post_save(
    sender: type[models.Model], instance: models.Model, created: bool, **_: Any
) -> None:
    if created and is_bound(sender):
        was_made([instance])


def _on_pre_delete(sender: type[models.Model], instance: models.Model, **_: Any) -> None:
    if _local.capture is None:
        return
    if is_bound(sender):
        will_change(sender, [instance.pk])
    # Hidden ones too: a link without a name back is a link.
    for relation in sender._meta.get_fields(include_hidden=True):
        if not isinstance(relation, models.ManyToOneRel):
            continue
        field = relation.field
        if is_bound(field.model) and relation.on_delete is models.SET_NULL:
            pointing = field.model._base_manager.filter(**{field.name: instance.pk})
            will_change(field.model, pointing.values_list("pk", flat=True))
            _local.capture.excused.add(field.model._meta.db_table)


def _on_m2m_changed(
    sender: type[models.Model],
    instance: models.Model,
    action: str,
    reverse: bool,
    pk_set: set[int] | None,
    **_: Any,
) -> None:
    if _local.capture is None or not action.startswith("pre_"):
        return
    _local.capture.excused.add(sender._meta.db_table)
    for model in bound_models():
        for many in model._meta.local_many_to_many:
            if many.remote_field.through is not sender:
                continue
            if not reverse:
                will_change(model, [instance.pk])
            elif pk_set is not None:
                will_change(model, pk_set)
            else:
                linked = model._base_manager.filter(**{many.name: instance.pk})
                will_change(model, linked.values_list("pk", flat=True))


def watch() -> None:
    """Begin to notice; called once, when Django is ready."""
    pre_save.connect(_on_pre_save, dispatch_uid="ledger_pre_save")
    post_save.connect(_on_post_save, dispatch_uid="ledger_post_save")
    pre_delete.connect(_on_pre_delete, dispatch_uid="ledger_pre_delete")
    m2m_changed.connect(_on_m2m_changed, dispatch_uid="ledger_m2m_changed")

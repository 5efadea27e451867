"""Binding rows to the entry that wrote them: a hash of each row as the entry left it."""

from collections.abc import Iterable, Sequence
from typing import Any

from django.db import models

from brewhygiene.ledger.hashing.merkle import root_of
from brewhygiene.ledger.models import Binding, Entry, Shape
from brewhygiene.ledger.rows.capture import Capture, bound_models
from brewhygiene.ledger.rows.shapes import Row, file_sha256, shape_of
from brewhygiene.ledger.rows.shapes import Shape as Columns

# Entries that bind rows which they did not write.
ADOPTED = "bind earlier rows"
REBOUND = "bind rows of a changed table"
WHY = {
    ADOPTED: "No entry bound these rows before. Each is bound as it stood at this moment.",
    REBOUND: "A new version changed this table's columns. Each row is bound anew, as it stood.",
}


def bindings_of(capture: Capture) -> list[Binding]:
    """What binds the rows that an action wrote, unsaved. 1 query a table, and its links."""
    capture.refuse_unbound()
    by_model: dict[type[models.Model], list[int]] = {}
    for model, pk in capture.before:
        by_model.setdefault(model, []).append(pk)
    found: list[Binding] = []
    for model in sorted(by_model, key=lambda model: model._meta.db_table):
        shape = shape_of(model)
        rows = shape.read(by_model[model])
        for pk in sorted(by_model[model]):
            before, row = capture.before[model, pk], rows.get(pk)
            if (row.digest if row else "") != before:
                found.append(binding(shape, pk, row, before=before))
    return found


def binding(shape: Columns, pk: int, row: Row | None, *, before: str) -> Binding:
    """A row as it is now (``None``: removed), unsaved. Reads the file that it names."""
    return Binding(
        table=shape.table,
        row=pk,
        shape=shape.digest,
        before=before,
        digest=row.digest if row else "",
        file=file_sha256(row.file) if row and row.file else "",
    )


def rows_root(bindings: Iterable[Binding]) -> str:
    """The RFC 6962 root over what an entry binds, in hex; '' where it binds nothing."""
    leaves = [binding.leaf().encode() for binding in bindings]
    return root_of(leaves).hex() if leaves else ""


def keep(entry: Entry, bindings: Sequence[Binding]) -> None:
    """Write what an entry binds. 1 query each 1000."""
    for one in bindings:
        one.entry = entry
    Binding.objects.bulk_create(bindings, batch_size=1000)


def keep_shapes() -> None:
    """Write down the shape of every bound table that is not known yet. 2 queries."""
    known = set(Shape.objects.values_list("digest", flat=True))
    shapes = [shape_of(model) for model in bound_models()]
    Shape.objects.bulk_create(
        Shape(digest=one.digest, table=one.table, columns=[list(c) for c in one.columns])
        for one in shapes
        if one.digest not in known
    )


def gone_tables() -> set[str]:
    """Tables that entries say are gone: their rows were bound anew under another name."""
    entries = Entry.objects.filter(verb=REBOUND, values__has_key="tables_gone")
    return {name for values in entries.values_list("values", flat=True) for name in _gone(values)}


def _gone(values: dict[str, Any]) -> Iterable[str]:
    return values["tables_gone"]  # type: ignore[no-any-return]

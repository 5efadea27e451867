"""Checking the rows that one record was made from, and the entries that bind them."""

import dataclasses
from collections.abc import Iterable, Sequence

from django.db import models

from brewhygiene.ledger.binding import ADOPTED, rows_root
from brewhygiene.ledger.check.entries import check_entry
from brewhygiene.ledger.check.rows import check_history, latest_of
from brewhygiene.ledger.findings import Finding, Kind
from brewhygiene.ledger.models import Binding, Entry
from brewhygiene.ledger.rows.capture import bound_models
from brewhygiene.ledger.rows.shapes import shape_of


@dataclasses.dataclass(frozen=True)
class RecordCheck:
    """What was checked of a record, and what does not match."""

    rows: int
    entries: int
    findings: Sequence[Finding]
    adopted: Sequence[Binding]  # rows bound only when an older database was taken over

    @property
    def matches(self) -> bool:
        return not self.findings

    @property
    def adopted_at(self) -> "Entry | None":
        """The newest entry by which rows shown here were taken over."""
        return max((one.entry for one in self.adopted), key=lambda e: e.number, default=None)


def check_record(
    shown: Iterable[tuple[type[models.Model], int]], entries: Sequence[Entry]
) -> RecordCheck:
    """Check the rows shown, and all that these entries bind. 3 queries, and 1 a table."""
    tables = {shape_of(model).table: shape_of(model) for model in bound_models()}
    keys = {(shape_of(model).table, pk) for model, pk in shown}
    own = Binding.objects.filter(entry__in=[entry.pk for entry in entries])
    keys |= {key for key in own.values_list("table", "row").order_by() if key[0] in tables}
    histories = latest_of(keys)
    findings: list[Finding] = []
    for table in sorted({table for table, _ in keys}):
        pks = [pk for name, pk in keys if name == table]
        rows = tables[table].read(pks)
        for pk in sorted(pks):
            if history := histories.get((table, pk)):
                findings += check_history(history, rows.get(pk), files=True)
            elif pk in rows:
                text = f"Row {pk} of {table} was added without an entry."
                findings.append(Finding(Kind.ADDED, text, table=table, row=pk))
    newest = [history[-1] for history in histories.values()]
    checked = {entry.pk: entry for entry in entries} | {b.entry_id: b.entry for b in newest}
    findings += _check(list(checked.values()))
    return RecordCheck(
        rows=len(keys),
        entries=len(checked),
        findings=sorted(findings, key=lambda found: (found.entry, found.table, found.row)),
        adopted=[one for one in newest if one.entry.verb == ADOPTED],
    )


def _check(entries: Sequence[Entry]) -> list[Finding]:
    """Each entry by its own hash and by what it binds. 1 query."""
    bound: dict[int, list[Binding]] = {entry.pk: [] for entry in entries}
    for one in Binding.objects.filter(entry__in=bound).order_by("id"):
        bound[one.entry_id].append(one)
    return [
        finding
        for entry in entries
        for finding in check_entry(entry, rows_root(bound[entry.pk]), len(bound[entry.pk]))
    ]

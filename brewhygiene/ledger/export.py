"""A record that proves itself: its rows, the entries that bind them, and a signed head over all.

Whoever has the public key needs neither this program nor its database to check it; the README
has the recipe.
"""

from collections.abc import Iterable
from typing import Any

from django.db import models

from brewhygiene.ledger.check.rows import latest_of
from brewhygiene.ledger.hashing.merkle import Levels
from brewhygiene.ledger.heads.head import kept_head, leaf_of
from brewhygiene.ledger.models import Binding, Entry, Head
from brewhygiene.ledger.rows.shapes import Row, shape_of

FORMAT = "brewhygiene record 1"


def exported(
    shown: Iterable[tuple[type[models.Model], int]], entries: Iterable[Entry], head: Head
) -> dict[str, Any]:
    """The rows shown, the entries that bind them and these entries, each with its proof.

    A row that no entry bound has no proof and is listed as such. 3 queries, and 1 a table.
    """
    rows = _rows(shown)
    histories = latest_of(rows)
    newest = {key: history[-1] for key, history in histories.items()}
    chosen = {entry.pk: entry for entry in entries}
    chosen |= {binding.entry_id: binding.entry for binding in newest.values()}
    signed = kept_head(head)
    hashes = Entry.objects.filter(number__lte=head.number).order_by("number")
    tree = Levels(leaf_of(one) for one in hashes.values_list("hash", flat=True))
    bound = _Bound(chosen)
    return {
        "format": FORMAT,
        "head": signed.text,
        "signature": signed.signature,
        "rows": [
            {"text": rows[key].text, "entry": str(one.entry.number), **bound.proof_of(one)}
            for key, one in sorted(newest.items())
            if key in rows
        ],
        "unbound": sorted(row.text for key, row in rows.items() if key not in newest),
        "entries": {
            str(entry.number): {
                "text": entry.hashed_text(),
                "index": entry.number - 1,
                "path": [node.hex() for node in tree.path_of(entry.number - 1)],
            }
            for entry in sorted(chosen.values(), key=lambda entry: entry.number)
        },
    }


def _rows(shown: Iterable[tuple[type[models.Model], int]]) -> dict[tuple[str, int], Row]:
    by_model: dict[type[models.Model], list[int]] = {}
    for model, pk in shown:
        by_model.setdefault(model, []).append(pk)
    return {
        (shape_of(model).table, pk): row
        for model, pks in by_model.items()
        for pk, row in shape_of(model).read(pks).items()
    }


class _Bound:
    """What some entries bind, to find a row's place among it. 1 query."""

    def __init__(self, entries: Iterable[int]) -> None:
        self._all: dict[int, list[Binding]] = {}
        for one in Binding.objects.filter(entry__in=list(entries)).order_by("id"):
            self._all.setdefault(one.entry_id, []).append(one)
        self._trees: dict[int, Levels] = {}

    def proof_of(self, binding: Binding) -> dict[str, Any]:
        beside = self._all[binding.entry_id]
        index = [one.pk for one in beside].index(binding.pk)
        if binding.entry_id not in self._trees:
            self._trees[binding.entry_id] = Levels(one.leaf().encode() for one in beside)
        path = self._trees[binding.entry_id].path_of(index)
        return {"binding": binding.leaf(), "index": index, "path": [node.hex() for node in path]}

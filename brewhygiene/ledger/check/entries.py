"""Whether the chain of entries is as it was written, each with the rows that it binds."""

from collections.abc import Iterator

from brewhygiene.ledger.findings import Finding, Kind
from brewhygiene.ledger.hashing.canonical import canonical, digest_of
from brewhygiene.ledger.hashing.merkle import Tree
from brewhygiene.ledger.models import Binding, Entry, Shape


def check_entries() -> Iterator[Finding]:
    """What is wrong with the chain, from its first entry on; held a few thousand at a time."""
    expected, previous, latest_format = 1, "", 1
    roots = _Roots()
    for entry in Entry.objects.order_by("number", "id").iterator(chunk_size=2000):
        if entry.number > expected:
            yield _gone(expected, entry.number - 1)
        elif entry.number < expected:
            yield Finding(
                Kind.RENUMBERED, f"Entry {entry.number} is there twice.", entry=entry.number
            )
        expected = entry.number + 1
        if entry.previous_hash != previous:
            yield Finding(
                Kind.FORGED,
                f"Entry {entry.number} does not follow from the one before it: "
                f"{entry.verb}, {entry.subject_label}.",
                entry=entry.number,
            )
        yield from check_entry(entry, *roots.of(entry))
        if entry.format < latest_format:
            yield Finding(
                Kind.FORGED,
                f"Entry {entry.number} claims to be older than the one before it.",
                entry=entry.number,
            )
        previous, latest_format = entry.hash, max(entry.format, latest_format)
    if roots.left_over():
        yield Finding(Kind.FORGED, "Rows are bound to an entry that does not exist.")


def _gone(first: int, last: int) -> Finding:
    which = f"Entry {first} is" if first == last else f"Entries {first} to {last} are"
    return Finding(Kind.MISSING, f"{which} gone.", entry=first)


def check_entry(entry: Entry, root: str, count: int) -> Iterator[Finding]:
    """What is wrong with one entry, by the root and the number of what is bound to it."""
    about = f"entry {entry.number}: {entry.verb}, {entry.subject_label}"
    if entry.hash != entry.computed_hash():
        yield Finding(
            Kind.CHANGED,
            f"The content of {about}, recorded {entry.recorded_at:%Y-%m-%d %H:%M:%S} UTC, "
            "is not what its hash was made of.",
            entry=entry.number,
        )
    if entry.format != 1 and entry.user_name:
        yield Finding(
            Kind.FORGED, f"A name that no hash covers stands in {about}.", entry=entry.number
        )
    if (entry.rows_root, entry.row_count) != (root, count):
        yield Finding(
            Kind.FORGED,
            f"What is said to be bound by {about} is not what it bound.",
            entry=entry.number,
        )


class _Roots:
    """The roots over what each entry binds, in the order of the entries' keys."""

    def __init__(self) -> None:
        bindings = Binding.objects.order_by("entry_id", "id")
        self._rest = bindings.iterator(chunk_size=5000)
        self._next = next(self._rest, None)
        self._seen: dict[int, tuple[str, int]] = {}

    def of(self, entry: Entry) -> tuple[str, int]:
        """The root and the number of an entry's bindings."""
        while self._next is not None and self._next.entry_id <= entry.pk:
            key, tree = self._next.entry_id, Tree()
            while self._next is not None and self._next.entry_id == key:
                tree.add(self._next.leaf().encode())
                self._next = next(self._rest, None)
            self._seen[key] = (tree.root().hex(), tree.size)
        return self._seen.pop(entry.pk, ("", 0))

    def left_over(self) -> bool:
        return self._next is not None or bool(self._seen)


def check_shapes() -> Iterator[Finding]:
    """Shapes whose text is not what they are known by. 1 query."""
    for shape in Shape.objects.all():
        if digest_of(canonical([shape.table, shape.columns]))[:32] != shape.digest:
            yield Finding(Kind.CHANGED, f"The list of columns of {shape.table}.", table=shape.table)

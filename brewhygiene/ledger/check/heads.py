"""Whether the chain still is what a head says it was."""

from collections.abc import Iterator, Sequence

from brewhygiene.ledger.findings import Finding, Kind
from brewhygiene.ledger.hashing.merkle import Tree
from brewhygiene.ledger.heads.head import NoHead, SignedHead, kept_head, leaf_of
from brewhygiene.ledger.heads.key import NoKey, public_hex
from brewhygiene.ledger.models import Entry, Head


def check_kept_heads(*, own_key: str | None = None) -> Iterator[Finding]:
    """The heads that the database keeps itself: no proof to others, but they cost nothing."""
    heads = []
    for head in Head.objects.order_by("id").iterator(chunk_size=2000):
        try:
            signed = kept_head(head)
        except NoHead:
            yield Finding(Kind.CHANGED, f"The head kept as number {head.pk} is no head.")
            continue
        if (signed.number, signed.root) != (head.number, head.root):
            yield Finding(Kind.CHANGED, f"The head kept as number {head.pk} says two things.")
        heads.append(signed)
    yield from check_heads(heads, kept="that the database keeps", own_key=own_key)


def check_heads(
    heads: Sequence[SignedHead], *, kept: str = "from outside", own_key: str | None = None
) -> Iterator[Finding]:
    """What contradicts these heads. 1 query, and the entries' hashes up to the last of them.

    ``own_key`` is the ledger's public key, '' where nobody knows it; the installation's own if not
    given.
    """
    try:
        own_key = public_hex() if own_key is None else own_key
    except NoKey as error:
        yield Finding(Kind.SIGNATURE, str(error))
        own_key = ""
    good = []
    for head in heads:
        which = f"The head {kept}, of entry {head.number}, {head.signed},"
        if not head.is_signed:
            yield Finding(Kind.SIGNATURE, f"{which} has no valid signature.")
            continue
        if own_key and head.key != own_key:
            yield Finding(
                Kind.SIGNATURE, f"{which} was signed with another key than this ledger's."
            )
        good.append(head)
    yield from _contradictions(sorted(good, key=lambda head: head.number), kept=kept)


def _contradictions(heads: list[SignedHead], *, kept: str) -> Iterator[Finding]:
    if not heads:
        return
    tree, last, waiting = Tree(), "none", list(heads)
    hashes = Entry.objects.order_by("number", "id").values_list("hash", flat=True)
    rest = hashes[: heads[-1].number].iterator(chunk_size=5000)
    while waiting:
        head = waiting.pop(0)
        while tree.size < head.number and (entry_hash := next(rest, None)) is not None:
            tree.add(leaf_of(entry_hash))
            last = entry_hash
        if tree.size < head.number:
            yield Finding(
                Kind.CUT,
                f"The ledger ends at entry {tree.size}, but a head {kept} covers "
                f"{head.number}, signed {head.signed}.",
                entry=head.number,
            )
        elif (tree.root().hex(), last) != (head.root, head.last):
            yield Finding(
                Kind.REWRITTEN,
                f"Entries up to {head.number} are not those of the head {kept}, "
                f"signed {head.signed}.",
                entry=head.number,
            )

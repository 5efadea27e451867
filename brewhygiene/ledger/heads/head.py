"""A head: the end of the chain at one moment, signed, in words that travel.

What it covers cannot be changed afterwards without contradicting it, as long as somebody keeps it
where neither the database nor the key is: on paper, in a photograph, on another machine.
"""

import dataclasses
import re
from datetime import datetime

from brewhygiene.ledger.hashing.merkle import Tree
from brewhygiene.ledger.heads.key import is_signed, public_hex, sign
from brewhygiene.ledger.models import Entry, Head
from brewhygiene.ledger.rows.shapes import moment_text

TITLE = "brewhygiene head 1"
_FORM = re.compile(
    rf"{TITLE}\nkey: ([0-9a-f]{{64}})\nentries: (0|[1-9][0-9]{{0,15}})\n"
    r"last: ([0-9a-f]{64}|none)\n"
    r"root: ([0-9a-f]{64})\nsigned: (\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z)\n"
    r"signature: ([0-9a-f]{128})\n?"
)


class NoHead(ValueError):
    """A text that is no head."""


@dataclasses.dataclass(frozen=True)
class SignedHead:
    """A head as it is read from a text; nothing of it is believed until it is checked."""

    key: str
    number: int
    last: str
    root: str
    signed: str
    signature: str

    @property
    def text(self) -> str:
        """What was signed: every line but the signature, under a title that says what for."""
        return (
            f"{TITLE}\nkey: {self.key}\nentries: {self.number}\nlast: {self.last}\n"
            f"root: {self.root}\nsigned: {self.signed}\n"
        )

    @property
    def whole_text(self) -> str:
        """The text with its signature: what is printed, photographed, mailed and kept."""
        return f"{self.text}signature: {self.signature}\n"

    @property
    def is_signed(self) -> bool:
        """Whether the signature is one of the key that the head itself names."""
        return is_signed(self.text, signature=self.signature, public=self.key)


def read_head(text: str) -> SignedHead:
    """A head from its text, whatever spaces and line ends it came with. Raises :class:`NoHead`."""
    lines = [" ".join(line.split()) for line in text.strip().splitlines()]
    match = _FORM.fullmatch("\n".join(line for line in lines if line) + "\n")
    if match is None:
        raise NoHead(f"This is no head: its first line is “{TITLE}”, its last the signature.")
    key, number, last, root, signed, signature = match.groups()
    return SignedHead(key, int(number), last, root, signed, signature)


def kept_head(head: Head) -> SignedHead:
    """A head of the database as it went out. Raises :class:`NoHead`."""
    return read_head(f"{head.text}signature: {head.signature}\n")


def leaf_of(entry_hash: str) -> bytes:
    """What stands for an entry in the tree."""
    return entry_hash.encode()


def _tree() -> tuple[Tree, str]:
    """The tree over every entry, and the last hash. 2 queries, and the entries since the last head.

    The newest head whose signature holds tells what the tree was; from there it grows.
    """
    head = Head.objects.order_by("-id").first()
    tree, last = Tree(), ""
    if head is not None:
        grown = Tree(head.number, [bytes.fromhex(peak) for peak in head.peaks])
        signed = kept_head(head)
        if signed.is_signed and signed.key == public_hex() and grown.root().hex() == signed.root:
            tree, last = grown, "" if signed.last == "none" else signed.last
    entries = Entry.objects.filter(number__gt=tree.size).order_by("number")
    for entry_hash in entries.values_list("hash", flat=True).iterator(chunk_size=5000):
        tree.add(leaf_of(entry_hash))
        last = entry_hash
    return tree, last


def make_head(*, way: str, now: datetime) -> Head:
    """Sign the chain as it ends now, and keep it. Raises :class:`.key.NoKey`. 3 queries or 4.

    Where nothing was written since the last head of this way, that one is given again.
    """
    head = head_now(way=way, now=now)
    if head._state.adding:
        head.save()
    return head


def head_now(*, way: str, now: datetime) -> Head:
    """As :func:`make_head`, but a new one is not kept yet: its caller sends it away first."""
    tree, last = _tree()
    newest = Head.objects.filter(way=way, number=tree.size).order_by("-id").first()
    if newest is not None and newest.root == tree.root().hex():
        return newest
    unsigned = SignedHead(
        key=public_hex(),
        number=tree.size,
        last=last or "none",
        root=tree.root().hex(),
        signed=moment_text(now),
        signature="",
    )
    signature, _ = sign(unsigned.text)
    return Head(
        text=unsigned.text,
        signature=signature,
        number=tree.size,
        root=unsigned.root,
        peaks=[peak.hex() for peak in tree.peaks],
        signed_at=now,
        way=way,
    )

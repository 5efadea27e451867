"""How a page that follows the cellar by itself knows whether anything is new to it.

Such a page asks again every few seconds and says what it has ``seen``. Where that is still so,
the answer is empty and the page stays as it is.
"""

import dataclasses
import hashlib
from collections.abc import Iterable, Mapping
from datetime import datetime

from brewhygiene.release.status import Code

# One letter a status, so that what a page has seen fits into an address.
_LETTER = {code: format(index, "x") for index, code in enumerate(Code)}
_NAMED_AT_MOST = 3


@dataclasses.dataclass(frozen=True)
class Seen:
    """What a page shows: a digest of everything on it, and each vessel's status."""

    digest: str
    letters: str

    def __str__(self) -> str:
        return f"{self.digest}-{self.letters}"

    @classmethod
    def from_text(cls, text: str) -> "Seen | None":
        digest, dash, letters = text.partition("-")
        return cls(digest, letters) if dash else None


def seen_of(parts: Iterable[object], *, codes: Mapping[int, Code], now: datetime) -> Seen:
    """What a page made of ``parts`` shows at ``now``; ``codes`` gives the status by vessel.

    Words as '12 min' go stale by the minute, and so does the digest.
    """
    content = repr([list(parts), int(now.timestamp() // 60)])
    letters = "".join(_LETTER[codes[pk]] for pk in sorted(codes))
    return Seen(hashlib.sha256(content.encode()).hexdigest()[:16], letters)


def changed_since(seen: Seen | None, *, codes: Mapping[int, Code]) -> list[int]:
    """The vessels whose status is another than the page has seen.

    Empty where the page shows other vessels than these, as after a set-up.
    """
    if seen is None or len(seen.letters) != len(codes):
        return []
    pairs = zip(sorted(codes), seen.letters, strict=True)
    return [pk for pk, letter in pairs if _LETTER[codes[pk]] != letter]


def news_of(changed: Iterable[tuple[str, Code]]) -> str:
    """One short sentence for a screen reader on vessels whose status has changed."""
    names = list(changed)
    if len(names) > _NAMED_AT_MOST:
        return f"{len(names)} vessels have changed."
    return " ".join(f"{name}: {code.label}." for name, code in names)

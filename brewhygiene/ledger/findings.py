"""What a check of the ledger finds, in words."""

import dataclasses
from enum import StrEnum


class Kind(StrEnum):
    CHANGED = "changed"
    MISSING = "missing"
    ADDED = "added"
    FORGED = "forged"
    RENUMBERED = "renumbered"
    CUT = "cut off"
    REWRITTEN = "rewritten"
    UNGUARDED = "not guarded"
    SIGNATURE = "signature"


@dataclasses.dataclass(frozen=True)
class Finding:
    """One thing that is not as it was recorded; a number of an entry, or a row of a table."""

    kind: Kind
    text: str
    entry: int = 0
    table: str = ""
    row: int = 0
    file: str = ""

    def __str__(self) -> str:
        return f"{self.kind}: {self.text}"

"""Pairs pasted as two columns: parsed as a whole, or an error for each bad line."""

import dataclasses
import re

from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.quantities.parsing import NotANumber, parse_count

MOST_LINES = 500
MOST_SHOWN = 12
_STRONG = re.compile(r"\s*[;\t|,]\s*")
_NOTHING = {"", "-", "–", "—", "?", "x", "none", "missing"}


class NotPairs(ValueError):
    """Pasted text that contains no pairs; ``problems`` has a sentence for each bad line."""

    def __init__(self, problems: list[str]) -> None:
        super().__init__(" ".join(problems))
        self.problems = problems


@dataclasses.dataclass(frozen=True)
class PairRow:
    """One line: what each scale read, in RLU of its own; a missing side is ``None``."""

    reference_rlu: int | None
    new_rlu: int | None


def pairs_in_lines(text: str) -> list[PairRow]:
    """The pairs of ``text``, one a line: the reference scale's RLU, then the new scale's.

    A tab, semicolon, comma, bar or spaces part the two. A missing reading is an empty cell or
    a dash. Empty lines and a first line without a digit (a heading) are skipped. Raises
    :class:`NotPairs` with every line that is not a pair.

    >>> pairs_in_lines("old; new\\n12; 9\\n30; -")
    [PairRow(reference_rlu=12, new_rlu=9), PairRow(reference_rlu=30, new_rlu=None)]
    """
    lines = [(place, line) for place, line in enumerate(text.splitlines(), 1) if line.strip()]
    if lines and not re.search(r"\d", lines[0][1]):
        del lines[0]
    if not lines:
        raise NotPairs(["Enter two numbers a line: reference, then new."])
    if len(lines) > MOST_LINES:
        raise NotPairs([f"Enter at most {MOST_LINES} lines at once. There are {len(lines)}."])
    rows, problems = [], []
    for place, line in lines:
        try:
            rows.append(_row(line))
        except NotANumber as error:
            problems.append(f"Line {place}, “{line.strip()[:40]}”: {error}")
    if problems:
        more = len(problems) - MOST_SHOWN
        raise NotPairs(
            [
                "No pair was added. Correct these lines:",
                *problems[:MOST_SHOWN],
                *([f"and {more} more."] if more > 0 else []),
            ]
        )
    return rows


def _row(line: str) -> PairRow:
    # Outer spaces are no cells, an outer tab is: a missing side copied from a sheet.
    line = line.strip(" \u00a0\r\n")
    cells = _STRONG.split(line) if _STRONG.search(line) else line.split()
    if len(cells) == 1:
        raise NotANumber("enter a second number, or a dash for a missing reading.")
    if len(cells) != 2:
        raise NotANumber(f"enter two numbers, not {len(cells)}.")
    first, second = (_side(cell) for cell in cells)
    if first is None and second is None:
        raise NotANumber("enter at least one reading.")
    return PairRow(first, second)


def _side(cell: str) -> int | None:
    if cell.strip().casefold() in _NOTHING:
        return None
    if len(cell.split()) > 1:
        raise NotANumber(f"“{cell.strip()}” is not clear. Enter it without a space.")
    value = parse_count(cell)
    if value > MAX_RLU:
        raise NotANumber(f"{value} RLU is not possible. Enter at most {MAX_RLU}.")
    return value

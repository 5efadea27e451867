"""Pairs pasted as two columns: read as a whole, or told line by line what is wrong."""

import dataclasses
import re

from brewhygiene.atp.rlu import MAX_RLU
from brewhygiene.quantities.parsing import NotANumber, parse_count

MOST_LINES = 500
MOST_TOLD = 12
_STRONG = re.compile(r"\s*[;\t|,]\s*")
_NOTHING = {"", "-", "–", "—", "?", "x", "none", "missing"}


class NotPairs(ValueError):
    """Pasted text that holds no pairs; ``problems`` are sentences, one for each line in error."""

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

    A tab, semicolon, comma, bar or spaces part the two. A side that is missing is an empty cell
    or a dash. Empty lines and a first line without a digit (a heading) are passed over. Raises
    :class:`NotPairs` with every line that cannot be read.

    >>> pairs_in_lines("old; new\\n12; 9\\n30; -")
    [PairRow(reference_rlu=12, new_rlu=9), PairRow(reference_rlu=30, new_rlu=None)]
    """
    lines = [(place, line) for place, line in enumerate(text.splitlines(), 1) if line.strip()]
    if lines and not re.search(r"\d", lines[0][1]):
        del lines[0]
    if not lines:
        raise NotPairs(["There is no line of numbers. Each line holds two: reference, then new."])
    if len(lines) > MOST_LINES:
        raise NotPairs([f"{len(lines)} lines are too many at once: at most {MOST_LINES}."])
    rows, problems = [], []
    for place, line in lines:
        try:
            rows.append(_row(line))
        except NotANumber as error:
            problems.append(f"Line {place}, “{line.strip()[:40]}”: {error}")
    if problems:
        more = len(problems) - MOST_TOLD
        raise NotPairs(
            [
                "Nothing was added, because of these lines:",
                *problems[:MOST_TOLD],
                *([f"and {more} more like that."] if more > 0 else []),
            ]
        )
    return rows


def _row(line: str) -> PairRow:
    # Outer spaces are no cells, an outer tab is: a missing side copied from a sheet.
    line = line.strip(" \u00a0\r\n")
    cells = _STRONG.split(line) if _STRONG.search(line) else line.split()
    if len(cells) == 1:
        raise NotANumber("the second number is missing. Put a dash where a side was not read.")
    if len(cells) != 2:
        raise NotANumber(f"{len(cells)} numbers are not a pair: reference, then new.")
    first, second = (_side(cell) for cell in cells)
    if first is None and second is None:
        raise NotANumber("neither side was read.")
    return PairRow(first, second)


def _side(cell: str) -> int | None:
    if cell.strip().casefold() in _NOTHING:
        return None
    if len(cell.split()) > 1:
        raise NotANumber(f"“{cell.strip()}” can be read two ways. Type it without a space.")
    value = parse_count(cell)
    if value > MAX_RLU:
        raise NotANumber(f"{value} RLU cannot be. Meters show at most {MAX_RLU}.")
    return value

"""Pasted lines of numbers: any of the usual separators, decimal comma or point, clock times."""

import dataclasses
import re

from brewhygiene.quantities.parsing import NotANumber, parse_number

MOST_LINES = 500
_CLOCK = re.compile(r"(\d{1,3}):([0-5]?\d)(?::([0-5]?\d(?:[.,]\d+)?))?")
_STRONG = re.compile(r"\s*[;\t|]\s*")


class NotLines(ValueError):
    """Pasted text that cannot be read; the message names the line and says what to do."""


@dataclasses.dataclass(frozen=True)
class Row:
    """One line's numbers, with its place in what was pasted, from 1."""

    line: int
    values: tuple[float, ...]


def _cells(line: str, wanted: int) -> list[str]:
    if _STRONG.search(line):
        return [cell for cell in _STRONG.split(line) if cell]
    words = line.split()
    if len(words) > 1:
        return [word.rstrip(",") for word in words]
    # With nothing else between them, a comma parts the numbers if there are just enough.
    return line.split(",") if line.count(",") == wanted - 1 else words


def _value(cell: str, *, clock: bool) -> float:
    match = _CLOCK.fullmatch(cell) if clock else None
    if match is None:
        return parse_number(cell)
    hours, minutes, seconds = match.groups()
    return int(hours) * 60 + int(minutes) + float((seconds or "0").replace(",", ".")) / 60


def numbers_in_lines(text: str, *, columns: tuple[str, ...], clock: bool = False) -> list[Row]:
    """The numbers of ``text``, a row a line; ``columns`` names what each line holds.

    Empty lines are passed over, and so is a first line without any digit (a heading). With
    ``clock``, a first column written 7:05 or 7:05:30 is a time of day, in minutes. Raises
    :class:`NotLines`.

    >>> [row.values for row in numbers_in_lines("t; °C\\n0; 60,5\\n1:30; 61",
    ...                                         columns=("time", "temperature"), clock=True)]
    [(0.0, 60.5), (90.0, 61.0)]
    """
    rows: list[Row] = []
    named = ", ".join(columns[:-1]) + f" and {columns[-1]}"
    lines = [(place, line.strip()) for place, line in enumerate(text.splitlines(), start=1)]
    lines = [(place, line) for place, line in lines if line]
    if lines and not re.search(r"\d", lines[0][1]):
        del lines[0]
    if not lines:
        raise NotLines(f"Enter at least one line of numbers, each with {named}.")
    if len(lines) > MOST_LINES:
        raise NotLines(f"{len(lines)} lines are too many. Enter at most {MOST_LINES}.")
    for place, line in lines:
        cells = _cells(line, len(columns))
        if len(cells) != len(columns):
            raise NotLines(
                f"Line {place}, “{line[:60]}”: enter {named}, separated by a space or semicolon."
            )
        try:
            values = tuple(
                _value(cell, clock=clock and column == 0) for column, cell in enumerate(cells)
            )
        except NotANumber as error:
            raise NotLines(f"Line {place}: {error}") from error
        rows.append(Row(place, values))
    return rows

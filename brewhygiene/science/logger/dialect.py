"""How a logger file is written: encoding, separator, decimal sign, where its rows begin."""

import codecs
import csv
import dataclasses
import io
import re

from brewhygiene.science.logger.problems import LoggerFileUnreadable

SAMPLE_BYTES = 64 * 1024
SEPARATORS = {";": "semicolon", "\t": "tab", "|": "bar", ",": "comma"}
USUAL_MISSING = ("", "---", "NaN")
_MISSING_LOOKS = {"", "-", "--", "---", "nan", "n/a", "na", "null", "none", "#n/a"}

_NUMBER = {
    ".": re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?"),
    ",": re.compile(r"[+-]?(\d+,?\d*|,\d+)([eE][+-]?\d+)?"),
}
_TIME = re.compile(
    r"(?=.*\d)(\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4})?[T, ]{0,2}(\d{1,4}:\d{1,2}(:\d{1,2}([.,]\d+)?)?)?"
    r" ?([AaPp][Mm])?(Z|[+-]\d\d:?\d\d)?"
)
_UNIT = re.compile(
    r"[\[(]?(°? ?[CFK]|deg ?[CF]|[µμu]?m?S/c?m|h?[lL]/(min|h|s)|m[³3]/h|(US ?)?gpm|m?bar|k?Pa|psi"
    r"|pH|%|m/s|ft/s|s|sec|min|ms|h+:mm?(:ss)?|dd.*|yyyy.*|-*)[\])]?",
    re.IGNORECASE,
)


@dataclasses.dataclass(frozen=True)
class Dialect:
    """How a file is written. Rows are counted from 1, as a spreadsheet shows them.

    ``header_row`` is ``None`` for a file that begins with its readings; its columns are then
    called by their number. ``units`` are those of a row of units, or empty words.
    """

    encoding: str
    separator: str
    decimal: str
    line_end: str
    columns: tuple[str, ...]
    units: tuple[str, ...]
    header_row: int | None
    first_data_row: int
    sample: tuple[tuple[str, ...], ...]

    def index(self, column: str) -> int:
        """The place of ``column`` from 0, or :class:`LoggerFileUnreadable` where there is none."""
        if column not in self.columns:
            known = ", ".join(f"“{name}”" for name in self.columns)
            raise LoggerFileUnreadable(
                f"There is no column “{column}” in this file. It has: {known}. "
                "Map the columns again.",
                field="columns",
            )
        return self.columns.index(column)


def find_encoding(start: bytes) -> str:
    """The encoding of a file that begins with ``start``.

    By its byte order mark; UTF-16 without one by its zero bytes; UTF-8 where it is valid, else
    Windows' Western code page (cp1252). Raises :class:`LoggerFileUnreadable` for what is no text.
    """
    if not start.strip():
        raise LoggerFileUnreadable("The file is empty. Export the clean from the logger again.")
    for mark, what in (
        (b"PK\x03\x04", "an Excel workbook or a ZIP archive"),
        (b"\xd0\xcf\x11\xe0", "an old Excel workbook"),
        (b"%PDF", "a PDF"),
        (b"\x1f\x8b", "a compressed file"),
    ):
        if start.startswith(mark):
            raise LoggerFileUnreadable(f"This is {what}, not text. Save or export it as CSV.")
    for bom, encoding in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if start.startswith(bom):
            return encoding
    if b"\0" in start:
        even, odd = start[0::2].count(0), start[1::2].count(0)
        half = len(start) // 4  # zero at more than half of the places on one side only
        if odd > half > even:
            return "utf-16-le"
        if even > half > odd:
            return "utf-16-be"
        raise LoggerFileUnreadable("This is not a text file. Export the logger's readings as CSV.")
    try:
        codecs.getincrementaldecoder("utf-8")().decode(start, final=False)
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def sniff(start: bytes, *, whole: bool) -> Dialect:
    """The dialect of a file from its first bytes (``SAMPLE_BYTES`` do; ``whole`` if that is all).

    Tries each separator with each decimal sign and takes the pair by which most cells become
    numbers or times. Raises :class:`LoggerFileUnreadable` for an empty file, no text, no table, no
    row of numbers, or two columns named alike.
    """
    encoding = find_encoding(start)
    text = codecs.getincrementaldecoder(encoding)(errors="replace").decode(start, final=whole)
    line_end = "\r" if "\r" in text and "\n" not in text else "\n"
    if line_end == "\r":
        text = text.replace("\r", "\n")
    if not whole:
        text = text[: text.rfind("\n") + 1] or text
    separator, decimal, table = _best_table(text)
    return _described(encoding, separator, decimal, line_end, table)


_Table = list[tuple[int, list[str]]]


def _table(text: str, separator: str) -> _Table:
    """Rows that are not empty, with their number in the file."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows: _Table = []
    line = 1
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                rows.append((line, [cell.strip() for cell in row]))
            line = reader.line_num + 1
    except csv.Error:
        pass  # a cell longer than any logger writes: judge by what came before
    return rows


def looks_missing(cell: str) -> bool:
    """Whether ``cell`` is one of the usual marks for no reading."""
    return cell.casefold() in _MISSING_LOOKS


def _looks_read(cell: str, decimal: str) -> bool:
    return bool(_NUMBER[decimal].fullmatch(cell) or _TIME.fullmatch(cell))


def _usual_width(rows: _Table) -> int:
    """The commonest number of cells in the later rows, where the preamble is over."""
    widths = [len(row) for _, row in rows[len(rows) // 5 :]]
    return max(set(widths), key=lambda width: (widths.count(width), width))


def _trimmed(rows: _Table, width: int) -> _Table:
    """``rows`` without the empty cells that a separator at the end of each row leaves."""
    usual = [row for _, row in rows if len(row) == width]
    filled = max(at for row in usual for at, cell in enumerate(row, start=1) if cell)
    return [(line, row if any(row[filled:]) else row[:filled]) for line, row in rows]


def _best_table(text: str) -> tuple[str, str, _Table]:
    best: tuple[float, int, int] | None = None
    chosen: tuple[str, str, _Table] | None = None
    for order, separator in enumerate(SEPARATORS):
        rows = _table(text, separator)
        if not rows:
            continue
        rows = _trimmed(rows, _usual_width(rows))
        width = _usual_width(rows)
        if width < 2:
            continue
        for decimal in (".", ","):
            if decimal == separator and '"' not in text:
                continue
            score = _score(rows, width, decimal)
            # Equal shares: a point before a comma, more columns before fewer, then the order.
            rank = (score - (0.0 if decimal == "." else 1e-9), width, -order)
            if best is None or rank > best:
                best, chosen = rank, (separator, decimal, rows)
    if chosen is None or best is None or best[0] <= 0:
        raise LoggerFileUnreadable(
            "No table was found. A logger file has one row a reading, with a time and at least "
            "one number. Semicolons, commas, tabs or bars separate the cells."
        )
    return chosen


def _score(rows: _Table, width: int, decimal: str) -> float:
    later = rows[len(rows) // 5 :]
    cells = [cell for _, row in later if len(row) == width for cell in row if cell]
    if not cells:
        return 0.0
    read = sum(1 for cell in cells if _looks_read(cell, decimal) or looks_missing(cell))
    same = sum(1 for _, row in later if len(row) == width)
    return read / len(cells) * same / len(later)


def _is_data(row: list[str], width: int, decimal: str) -> bool:
    return len(row) >= max(2, width - 1) and any(_looks_read(cell, decimal) for cell in row if cell)


def _is_header(row: list[str], width: int, decimal: str) -> bool:
    filled = [cell for cell in row if cell]
    return (
        len(filled) >= 2
        and len(row) >= width - 1
        and not any(_looks_read(cell, decimal) for cell in filled)
    )


def _places(rows: _Table, width: int, decimal: str) -> tuple[int | None, int | None, int | None]:
    """Where in ``rows`` the names, the units and the first readings are."""
    for at, (_, row) in enumerate(rows):
        if not _is_header(row, width, decimal):
            continue
        below = [row for _, row in rows[at + 1 : at + 3]]
        if below and _is_data(below[0], width, decimal):
            return at, None, at + 1
        units = below and all(_UNIT.fullmatch(cell) for cell in below[0] if cell)
        if units and len(below) == 2 and _is_data(below[1], width, decimal):
            return at, at + 1, at + 2
    for at, (_, row) in enumerate(rows):
        if len(row) == width and _is_data(row, width, decimal):
            return None, None, at
    return None, None, None


def _described(encoding: str, separator: str, decimal: str, line_end: str, rows: _Table) -> Dialect:
    width = _usual_width(rows)
    header_at, units_at, data_at = _places(rows, width, decimal)
    if data_at is None:
        raise LoggerFileUnreadable(
            "No row of readings was found under the column names. Export the clean again."
        )
    header = rows[header_at][1] if header_at is not None else []
    while header and not header[-1] and len(header) > width:
        header.pop()
    width = max(width, len(header))
    names = [" ".join(cell.split()) for cell in header] + [""] * (width - len(header))
    columns = tuple(name or f"column {place}" for place, name in enumerate(names, start=1))
    _refuse_alike(columns)
    units = rows[units_at][1] if units_at is not None else []
    sample = [tuple((row + [""] * width)[:width]) for _, row in rows[data_at : data_at + 500]]
    return Dialect(
        encoding=encoding,
        separator=separator,
        decimal=decimal,
        line_end=line_end,
        columns=columns,
        units=tuple((units + [""] * width)[:width]),
        header_row=None if header_at is None else rows[header_at][0],
        first_data_row=rows[data_at][0],
        sample=tuple(sample),
    )


def _refuse_alike(columns: tuple[str, ...]) -> None:
    seen: dict[str, int] = {}
    for place, name in enumerate(columns, start=1):
        # t and T are two names: time and temperature.
        earlier = seen.setdefault(name, place)
        if earlier != place:
            raise LoggerFileUnreadable(
                f"Two columns are named “{name}” (columns {earlier} and {place}). Rename one in "
                "the logger or in the file, and upload it again.",
                field="columns",
            )

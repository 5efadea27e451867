"""The bytes of a logger file as blocks of whole lines, in UTF-8, whatever they were written in."""

import codecs
import dataclasses
from collections.abc import Callable, Iterator
from typing import BinaryIO

from brewhygiene.science.logger.dialect import Dialect
from brewhygiene.science.logger.problems import LoggerFileUnreadable

PART_BYTES = 4 * 1024 * 1024

Progress = Callable[[int, int], None]


@dataclasses.dataclass(frozen=True)
class Block:
    """Whole lines, as UTF-8, the first of which is row ``row`` of the file."""

    text: bytes
    row: int


def blocks(
    file: BinaryIO,
    *,
    dialect: Dialect,
    part_bytes: int = PART_BYTES,
    total_bytes: int = 0,
    on_progress: Progress | None = None,
) -> Iterator[Block]:
    """Blocks of about ``part_bytes`` from the first row of readings on.

    ``file`` stands at its start; ``on_progress`` is called with the bytes read and
    ``total_bytes``. Raises :class:`LoggerFileUnreadable` where no row ends within a block's size.
    """
    decode = _decoder(dialect)
    skip = dialect.first_data_row - 1
    row, done, rest = 1, 0, b""
    while True:
        raw = file.read(part_bytes)
        done += len(raw)
        text = rest + decode(raw, not raw)
        if skip:
            # The preamble is within the first bytes, which were looked at for the dialect.
            lines = text.split(b"\n", skip)
            text, row, skip = lines[-1], row + len(lines) - 1, 0
        end = end_of_lines(text) if raw else len(text)
        if end == 0 and len(text) > part_bytes:
            raise LoggerFileUnreadable(
                f"From row {row} on no end of a row was found. Check for a quotation mark that is "
                "not closed, or whether this is a table."
            )
        rest = text[end:]
        if end:
            yield Block(text[:end], row)
            row += text.count(b"\n", 0, end)
        if on_progress:
            on_progress(done, total_bytes)
        if not raw:
            return


def _decoder(dialect: Dialect) -> Callable[[bytes, bool], bytes]:
    encoding = dialect.encoding
    line_end = dialect.line_end.encode()
    if encoding == "utf-8" and line_end == b"\n":
        return lambda raw, last: raw
    errors = "strict" if encoding.startswith("utf-16") else "replace"
    decoder = codecs.getincrementaldecoder(encoding)(errors=errors)

    def decode(raw: bytes, last: bool) -> bytes:
        try:
            text = decoder.decode(raw, final=last).encode("utf-8", "replace")
        except UnicodeDecodeError:
            raise LoggerFileUnreadable(
                "The file begins as UTF-16 text but does not continue as such. It may be cut off. "
                "Export it again."
            ) from None
        return text if line_end == b"\n" else text.replace(line_end, b"\n")

    return decode


def end_of_lines(text: bytes) -> int:
    """Where the last whole row of ``text`` ends: a line end inside quotation marks is none."""
    end = text.rfind(b"\n") + 1
    if b'"' not in text:
        return end
    quotes = text.count(b'"', 0, end)
    while end and quotes % 2:
        before = text.rfind(b"\n", 0, end - 1) + 1
        quotes -= text.count(b'"', before, end)
        end = before
    return end

"""Streaming a logger file: parts of it, in order, as numbers in the kept units.

Memory is bounded by a part, whatever the size of the file.

Rules, which are counted in :class:`Tally`:

- a row whose time is that of the row before, or of any row kept so far, is left out (duplicate);
- a row whose time is earlier than one already kept is left out (backwards);
- a row with readings but without a time is left out;
- an empty cell, or one with a declared mark, is no reading;
- any other cell that is not a number, or a number that the quantity cannot have, refuses the file.
"""

import dataclasses
import datetime as dt
import io
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from brewhygiene.science.logger.blocks import PART_BYTES, Progress, blocks
from brewhygiene.science.logger.cells import CellReader, Cells
from brewhygiene.science.logger.dialect import SAMPLE_BYTES, Dialect, sniff
from brewhygiene.science.logger.mapping import Mapping
from brewhygiene.science.logger.problems import LoggerFileUnreadable
from brewhygiene.science.logger.times import CLOCK, has_date, has_zone, unwrap_clock

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray


@dataclasses.dataclass(frozen=True)
class Part:
    """Some rows: seconds since the trace's first, and readings (NaN for none) by quantity."""

    seconds: "FloatArray"
    values: "dict[str, FloatArray]"


@dataclasses.dataclass
class Tally:
    """What a reading went through so far. ``start`` has no zone where the logger gave none."""

    rows: int = 0
    kept: int = 0
    duplicates: int = 0
    backwards: int = 0
    without_time: int = 0
    start: dt.datetime | None = None
    duration_s: float = 0.0
    readings: dict[str, int] = dataclasses.field(default_factory=dict)
    missing: dict[str, int] = dataclasses.field(default_factory=dict)


def size_of(source: Path | BinaryIO) -> int:
    """Bytes of a file, by its path or opened for reading in binary."""
    if isinstance(source, Path):
        return source.stat().st_size
    here = source.tell()
    size = source.seek(0, io.SEEK_END)
    source.seek(here)
    return size


def sniff_file(source: Path | BinaryIO) -> Dialect:
    """The dialect of a file; raises as :func:`~brewhygiene.science.logger.dialect.sniff`."""
    if isinstance(source, Path):
        with source.open("rb") as opened:
            return sniff_file(opened)
    source.seek(0)
    start = source.read(SAMPLE_BYTES)
    whole = len(start) < SAMPLE_BYTES or not source.read(1)
    source.seek(0)
    return sniff(start, whole=whole)


class LoggerFileReader:
    """Reads a logger file once, part by part: iterate over it, then look at ``tally``."""

    def __init__(
        self,
        source: Path | BinaryIO,
        *,
        mapping: Mapping,
        dialect: Dialect | None = None,
        largest_bytes: int | None = None,
        on_progress: Progress | None = None,
        part_bytes: int = PART_BYTES,
    ) -> None:
        """``source`` is a path or an open binary file; ``dialect`` is found where not given.

        ``largest_bytes`` refuses a larger file before it is read; ``on_progress`` is called with
        the bytes read and their total; ``part_bytes`` bounds the memory. Raises
        :class:`LoggerFileUnreadable`.
        """
        self.total_bytes = size_of(source)
        if largest_bytes is not None and self.total_bytes > largest_bytes:
            raise LoggerFileUnreadable(
                f"The file has {self.total_bytes / 1e6:.0f} MB. Upload at most "
                f"{largest_bytes / 1e6:.0f} MB. Export this clean alone, or read the file on the "
                "server from the command line."
            )
        self.source = source
        self.mapping = mapping
        self.dialect = dialect or sniff_file(source)
        mapping.check(self.dialect)
        self.tally = Tally(
            readings=dict.fromkeys((each.quantity for each in mapping.columns), 0),
            missing=dict.fromkeys((each.quantity for each in mapping.columns), 0),
        )
        self._on_progress = on_progress
        self._part_bytes = part_bytes
        self._cells = CellReader(dialect=self.dialect, mapping=mapping)
        self._origin_s: float | None = None
        self._latest_s = -np.inf
        self._last_clock_s = np.nan
        self._midnights = 0

    def __iter__(self) -> Iterator[Part]:
        """The parts, in order. Raises :class:`LoggerFileUnreadable`, at the latest at the end."""
        if isinstance(self.source, Path):
            with self.source.open("rb") as opened:
                yield from self._parts(opened)
        else:
            self.source.seek(0)
            yield from self._parts(self.source)
        self._check_whole()

    def _parts(self, file: BinaryIO) -> Iterator[Part]:
        for block in blocks(
            file,
            dialect=self.dialect,
            part_bytes=self._part_bytes,
            total_bytes=self.total_bytes,
            on_progress=self._on_progress,
        ):
            for cells in self._cells.read(block):
                part = self._in_order(cells)
                if part is not None:
                    yield part

    def _in_order(self, cells: Cells) -> Part | None:
        known = ~np.isnan(cells.times_s)
        filled = known.copy()
        for numbers in cells.values.values():
            filled |= ~np.isnan(numbers)
        self.tally.rows += int(filled.sum())
        self.tally.without_time += int((filled & ~known).sum())
        times_s = cells.times_s[known]
        if not times_s.size:
            return None
        if self.mapping.time_form == CLOCK:
            last = times_s[-1]
            times_s, self._midnights = unwrap_clock(times_s, self._last_clock_s, self._midnights)
            self._last_clock_s = last
        latest = np.maximum.accumulate(np.concatenate(([self._latest_s], times_s)))
        keep = times_s > latest[:-1]
        self.tally.backwards += int((times_s < latest[:-1]).sum())
        self.tally.duplicates += int((times_s == latest[:-1]).sum())
        self._latest_s = float(latest[-1])
        if self._origin_s is None:
            self._origin_s = float(times_s[0])
            self.tally.start = self._moment(self._origin_s)
        seconds = times_s[keep] - self._origin_s
        if not seconds.size:
            return None
        values = {}
        for quantity, numbers in cells.values.items():
            kept = numbers[known][keep]
            values[quantity] = kept
            there = int(np.count_nonzero(~np.isnan(kept)))
            self.tally.readings[quantity] += there
            self.tally.missing[quantity] += len(kept) - there
        self.tally.kept += len(seconds)
        self.tally.duration_s = float(seconds[-1])
        return Part(seconds, values)

    def _moment(self, seconds: float) -> dt.datetime | None:
        if not has_date(self.mapping.time_form):
            return None
        moment = dt.datetime.fromtimestamp(seconds, tz=dt.UTC)
        return moment if has_zone(self.mapping.time_form) else moment.replace(tzinfo=None)

    def _check_whole(self) -> None:
        tally = self.tally
        if tally.backwards * 2 > tally.rows:
            raise LoggerFileUnreadable(
                f"{tally.backwards} of {tally.rows} rows have a time before that of an earlier "
                "row. Sort the file by time, oldest first. Delete a row with a time far ahead of "
                "all others. Check the order of day and month.",
                field="time_form",
            )
        if tally.kept < 2:
            what = "no row" if not tally.kept else "only one row"
            raise LoggerFileUnreadable(
                f"The file has {what} with a time of its own. At least two are needed. Export the "
                "whole clean."
            )
        if not any(tally.readings.values()):
            raise LoggerFileUnreadable(
                f"All {tally.kept} rows are gaps, without a reading in any chosen column. Check "
                "the sensor and the chosen columns.",
                field="columns",
            )

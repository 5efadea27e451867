"""Lines of a logger file as numbers in the kept units.

A block is split and turned into numbers by polars at once. Where that fails, the same block is
read again cell by cell, which either succeeds (padded quotation marks, surplus empty cells) or
names the rows at fault.
"""

import csv
import dataclasses
import io
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from brewhygiene.science.logger.blocks import Block, end_of_lines
from brewhygiene.science.logger.dialect import Dialect
from brewhygiene.science.logger.mapping import Mapping
from brewhygiene.science.logger.problems import BadCell, LoggerFileUnreadable, cells_unreadable
from brewhygiene.science.logger.times import parse_times
from brewhygiene.science.logger.units import QUANTITIES

if TYPE_CHECKING:
    import polars as pl

    from brewhygiene.science.errors import FloatArray

    Marks = np.ndarray[tuple[int], np.dtype[np.bool_]]
    RowNumbers = np.ndarray[tuple[int], np.dtype[np.int64]]

SLOW_PART_BYTES = 1024 * 1024


@dataclasses.dataclass(frozen=True)
class Cells:
    """The mapped columns of some rows: seconds and readings, NaN for none."""

    times_s: "FloatArray"
    values: "dict[str, FloatArray]"


class _NotPlain(Exception):
    """A block that the quick way cannot read for certain."""


class CellReader:
    """Turns blocks of one file into numbers, by its dialect and mapping."""

    def __init__(self, *, dialect: Dialect, mapping: Mapping) -> None:
        self.dialect = dialect
        self.mapping = mapping
        self._time_places = [dialect.index(name) for name in mapping.time_columns]
        self._places = {each.quantity: dialect.index(each.column) for each in mapping.columns}
        self._missing = sorted({"", *(mark.strip() for mark in mapping.missing)})

    def read(self, block: Block) -> Iterator[Cells]:
        """The numbers of ``block``, in parts; raises :class:`LoggerFileUnreadable`."""
        try:
            yield self._quickly(block)
        except _NotPlain:
            at, row = 0, block.row
            while at < len(block.text):
                end = len(block.text)
                if end - at > SLOW_PART_BYTES:
                    found = end_of_lines(block.text[at : at + SLOW_PART_BYTES])
                    end = at + found if found else end
                piece = Block(block.text[at:end], row)
                at, row = end, row + piece.text.count(b"\n")
                yield self._cell_by_cell(piece)

    def _quickly(self, block: Block) -> Cells:
        import polars as pl  # a tenth of a second to import, and only traces need it

        wanted = {*self._time_places, *self._places.values()}
        # A decimal comma is turned into a point below: polars itself would take both.
        number = pl.Float64 if self.mapping.decimal == "." else pl.String
        schema: dict[str, type[pl.DataType]] = {
            str(place): number if place in self._places.values() else pl.String
            for place in range(len(self.dialect.columns))
        }
        try:
            table = pl.read_csv(
                block.text,
                has_header=False,
                separator=self.dialect.separator,
                schema=schema,
                null_values=self._missing,
                missing_columns="insert",
            ).select(str(place) for place in sorted(wanted))
        except (pl.exceptions.PolarsError, ValueError):
            raise _NotPlain from None
        times_s, bad_times = self._times([table[str(place)] for place in self._time_places])
        if bad_times.any():
            raise _NotPlain
        values = {}
        for mapped in self.mapping.columns:
            series = table[str(self._places[mapped.quantity])]
            numbers, bad = self._numbers(series, mapped.quantity, mapped.unit)
            if bad.any():
                raise _NotPlain
            values[mapped.quantity] = numbers
        return Cells(times_s, values)

    def _cell_by_cell(self, block: Block) -> Cells:
        import polars as pl

        width = len(self.dialect.columns)
        places = sorted({*self._time_places, *self._places.values()})
        columns: dict[int, list[str]] = {place: [] for place in places}
        rows: list[int] = []
        bad: list[BadCell] = []
        text = io.StringIO(block.text.decode("utf-8", "replace"), newline="")
        reader = csv.reader(text, delimiter=self.dialect.separator)
        row = block.row
        try:
            for cells in reader:
                if any(cells):
                    surplus = [cell for cell in cells[width:] if cell.strip()]
                    if surplus:
                        bad.append(BadCell(row, f"cell {width + 1}", surplus[0],
                                           f"is beyond the {width} columns"))  # fmt: skip
                    rows.append(row)
                    for place in places:
                        columns[place].append(cells[place].strip() if place < len(cells) else "")
                row = block.row + reader.line_num
        except csv.Error:
            raise LoggerFileUnreadable(
                f"Row {row} cannot be split into cells. Check its quotation marks."
            ) from None
        numbered = np.array(rows, dtype=np.int64)
        series = {place: pl.Series(columns[place], dtype=pl.String) for place in places}
        times_s, bad_times = self._times([series[place] for place in self._time_places])
        name = self.mapping.time_columns[0]
        bad += self._named(bad_times, numbered, series[self._time_places[0]], name, "is not a time")
        values = {}
        for mapped in self.mapping.columns:
            texts = series[self._places[mapped.quantity]]
            values[mapped.quantity], wrong = self._numbers(texts, mapped.quantity, mapped.unit)
            impossible = wrong & np.isfinite(values[mapped.quantity])
            quantity = QUANTITIES[mapped.quantity]
            bad += self._named(
                wrong & ~impossible, numbered, texts, mapped.column, "is not a number"
            )
            bad += self._named(impossible, numbered, texts, mapped.column,
                               f"cannot be a {quantity.label} in {mapped.unit}")  # fmt: skip
        if bad:
            raise cells_unreadable(sorted(bad, key=lambda cell: cell.row), advice=self._advice(bad))
        return Cells(times_s, values)

    def _named(
        self,
        bad: "Marks",
        rows: "RowNumbers",
        texts: "pl.Series",
        column: str,
        why: str,
    ) -> list[BadCell]:
        return [
            BadCell(int(rows[at]), column, str(texts[int(at)] or ""), why)
            for at in np.flatnonzero(bad)
        ]

    def _advice(self, bad: list[BadCell]) -> str:
        other = "," if self.mapping.decimal == "." else "."
        if any("beyond" in cell.why for cell in bad):
            return (
                "A row has more cells than there are column names. If commas separate cells and "
                "decimals, export with semicolons. Else correct the row."
            )
        if any(other in cell.text and "number" in cell.why for cell in bad):
            word = "comma" if other == "," else "point"
            return f"If this file has a decimal {word}, choose that where columns are mapped."
        if any("no time" in cell.why for cell in bad):
            return "Choose the time format of this logger, or correct the rows."
        return (
            "Correct the cells. If a word stands for no reading, add it to the words for a "
            "missing reading."
        )

    def _times(self, texts: "list[pl.Series]") -> "tuple[FloatArray, Marks]":
        """Seconds, NaN for none, and where a time was written that cannot be read."""
        import polars as pl

        both = texts[0]
        if len(texts) == 2:
            both = (texts[0].str.strip_chars() + " " + texts[1].str.strip_chars()).cast(pl.String)
        times_s = parse_times(both, self.mapping.time_form, self.mapping.decimal)
        unread = np.isnan(times_s)
        if unread.any():
            for series in texts:
                stripped = series.str.strip_chars()
                unread &= ~(stripped.is_null() | stripped.is_in(self._missing)).to_numpy()
        return times_s, unread

    def _numbers(self, series: "pl.Series", quantity: str, unit: str) -> "tuple[FloatArray, Marks]":
        """Readings in the kept unit, NaN for none, and where a cell is no possible reading."""
        import polars as pl

        if series.dtype == pl.String:
            texts = series.str.strip_chars()
            absent = (texts.is_null() | texts.is_in(self._missing)).to_numpy()
            unclear = np.zeros(len(texts), dtype=bool)
            if self.mapping.decimal == ",":
                unclear = texts.str.contains(".", literal=True).fill_null(False).to_numpy()
                texts = texts.str.replace(",", ".", literal=True)
            numbers = texts.cast(pl.Float64, strict=False).to_numpy()
            numbers = np.where(absent | unclear, np.nan, numbers)
        else:
            absent = series.is_null().to_numpy()
            numbers = series.to_numpy()
        factor, offset = QUANTITIES[quantity].units[unit]
        if (factor, offset) != (1, 0):
            numbers = numbers * factor + offset
        least, most = QUANTITIES[quantity].least, QUANTITIES[quantity].most
        possible = (numbers >= least) & (numbers <= most)
        return numbers, ~possible & ~absent

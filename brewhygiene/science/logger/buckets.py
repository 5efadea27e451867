"""A trace of any length as a few thousand buckets, with what was least and greatest in each.

Buckets begin a second wide and double whenever there are too many, so that one pass over a trace
of unknown length does, in bounded memory. Pictures are drawn from the extremes of each bucket: a
spike of one reading in a year still shows.
"""

import dataclasses
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray

    Integers = np.ndarray[tuple[int], np.dtype[np.int64]]

FIRST_WIDTH_S = 1.0


@dataclasses.dataclass(frozen=True)
class Thinned:
    """The points of one quantity to draw, in order; ``gap_before`` marks those not to join."""

    seconds: "FloatArray"
    values: "FloatArray"
    gap_before: "np.ndarray[tuple[int], np.dtype[np.bool_]]"


@dataclasses.dataclass
class _Column:
    """Per bucket of one quantity: its number, readings, sum, extremes and their seconds."""

    index: "Integers"
    count: "FloatArray"
    total: "FloatArray"
    first_s: "FloatArray"
    last_s: "FloatArray"
    least: "FloatArray"
    least_s: "FloatArray"
    greatest: "FloatArray"
    greatest_s: "FloatArray"


def _empty() -> _Column:
    return _Column(np.empty(0, dtype=np.int64), *(np.empty(0) for _ in range(8)))


def _grouped(column: _Column) -> _Column:
    """``column`` with neighbours of one number made one."""
    if not len(column.index):
        return column
    firsts = np.concatenate(([0], np.flatnonzero(np.diff(column.index)) + 1))
    sizes = np.diff(np.concatenate((firsts, [len(column.index)])))
    least = np.minimum.reduceat(column.least, firsts)
    greatest = np.maximum.reduceat(column.greatest, firsts)
    group = np.repeat(np.arange(len(firsts)), sizes)
    return _Column(
        index=column.index[firsts],
        count=np.add.reduceat(column.count, firsts),
        total=np.add.reduceat(column.total, firsts),
        first_s=column.first_s[firsts],
        last_s=column.last_s[firsts + sizes - 1],
        least=least,
        least_s=column.least_s[_first_of_each(column.least == least[group], group)],
        greatest=greatest,
        greatest_s=column.greatest_s[_first_of_each(column.greatest == greatest[group], group)],
    )


def _first_of_each(
    hits: "np.ndarray[tuple[int], np.dtype[np.bool_]]", group: "Integers"
) -> "Integers":
    places = np.flatnonzero(hits)
    _, firsts = np.unique(group[places], return_index=True)
    return places[firsts]


def _joined(one: _Column, other: _Column) -> _Column:
    return _Column(
        *(
            np.concatenate((getattr(one, field.name), getattr(other, field.name)))
            for field in dataclasses.fields(_Column)
        )
    )


class Buckets:
    """Collects a trace that comes in parts, in order; ``limit`` bounds the buckets kept."""

    def __init__(self, *, quantities: tuple[str, ...], limit: int = 1000) -> None:
        """``limit`` 2 or more buckets; up to twice as many are held. Raises ``ValueError``."""
        if limit < 2:
            raise ValueError("Choose at least two buckets.")
        self.limit = limit
        self.width_s = FIRST_WIDTH_S
        self._columns = {quantity: _empty() for quantity in quantities}

    def add(self, seconds: "FloatArray", values: "dict[str, FloatArray]") -> None:
        """Add rows: ``seconds`` s in order, from 0; ``values`` by quantity, NaN for none."""
        if not len(seconds):
            return
        while float(seconds[-1]) // self.width_s >= 2 * self.limit:
            self._double()
        for quantity, kept in self._columns.items():
            known = ~np.isnan(values[quantity])
            times_s, numbers = seconds[known], values[quantity][known]
            if not len(times_s):
                continue
            fresh = _Column(
                index=(times_s // self.width_s).astype(np.int64),
                count=np.ones(len(times_s)),
                total=numbers,
                first_s=times_s,
                last_s=times_s,
                least=numbers,
                least_s=times_s,
                greatest=numbers,
                greatest_s=times_s,
            )
            # Those kept are few: the two are joined after the many have become few.
            self._columns[quantity] = _grouped(_joined(kept, _grouped(fresh)))

    def _double(self) -> None:
        self.width_s *= 2
        for quantity, column in self._columns.items():
            halved = dataclasses.replace(column, index=column.index // 2)
            self._columns[quantity] = _grouped(halved)

    def coarser(self, limit: int) -> "Buckets":
        """The same trace in buckets so wide that ``limit`` of them would hold it, give or take."""
        other = Buckets(quantities=tuple(self._columns), limit=limit)
        other.width_s = self.width_s
        other._columns = dict(self._columns)
        while max((len(column.index) for column in other._columns.values()), default=0) > limit:
            other._double()
        return other

    def means(self, quantity: str) -> "tuple[Integers, FloatArray]":
        """Numbers of the buckets that hold readings of ``quantity``, and their means."""
        column = self._columns[quantity]
        return column.index, column.total / column.count

    def thinned(self, quantity: str, *, max_gap_s: float = 60.0) -> Thinned:
        """Least and greatest reading of each bucket, in the order of their times.

        ``max_gap_s`` s: buckets whose readings are further apart are not to be joined by a
        line, unless the buckets are themselves wider than that.
        """
        column = self._columns[quantity]
        low_first = column.least_s <= column.greatest_s
        seconds = np.column_stack(
            (
                np.where(low_first, column.least_s, column.greatest_s),
                np.where(low_first, column.greatest_s, column.least_s),
            )
        ).ravel()
        values = np.column_stack(
            (
                np.where(low_first, column.least, column.greatest),
                np.where(low_first, column.greatest, column.least),
            )
        ).ravel()
        gaps = np.zeros(len(seconds), dtype=bool)
        if len(column.index) > 1:
            gaps[2::2] = column.first_s[1:] - column.last_s[:-1] > max_gap_s
        one_point = np.zeros(len(seconds), dtype=bool)
        one_point[1::2] = seconds[1::2] == seconds[0::2]
        keep = ~one_point
        return Thinned(seconds[keep], values[keep], gaps[keep])

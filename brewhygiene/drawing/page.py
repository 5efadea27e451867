"""A figure as data for the page's script: columns of numbers, times in seconds of the wall clock.

A browser shows times of its own zone; so that it shows the brewery's, each moment is sent as if
the clock on the brewery's wall were UTC.
"""

import dataclasses
from collections.abc import Sequence
from datetime import UTC, datetime, tzinfo
from typing import Any

from django.utils import timezone

from brewhygiene.drawing.figure import (
    Axis,
    Cells,
    Figure,
    Level,
    Mark,
    Moment,
    Where,
)
from brewhygiene.drawing.marks import cell_share
from brewhygiene.drawing.scales import Scale, number_of, numbers, own_y, shared_x

QUARTER_S = 900


@dataclasses.dataclass
class Clock:
    """From seconds of the epoch to those of the wall clock; a zone changes on the quarter hour."""

    zone: tzinfo
    offsets: dict[int, float] = dataclasses.field(default_factory=dict)

    def wall(self, second: float) -> int:
        quarter = int(second // QUARTER_S)
        if quarter not in self.offsets:
            offset = datetime.fromtimestamp(quarter * QUARTER_S, UTC).astimezone(self.zone)
            self.offsets[quarter] = (offset.utcoffset() or datetime.resolution * 0).total_seconds()
        return round(second + self.offsets[quarter])


def rounded(value: float | None) -> float | None:
    """Six digits are more than a screen can show."""
    return None if value is None else float(f"{value:.6g}")


def figure_data(figure: Figure, *, zone: tzinfo | None = None) -> dict[str, Any]:
    """What the page's script draws; JSON can hold all of it."""
    clock = Clock(zone or timezone.get_current_timezone())
    return {
        "name": figure.name,
        "caption": figure.caption,
        "height": figure.height_px,
        "x": _axis(shared_x(figure.panels), clock),
        "panels": [
            {
                "title": panel.title,
                "height": panel.height,
                "y": _axis(own_y(panel), clock),
                "marks": [_mark(mark, panel.x, panel.y, clock) for mark in panel.marks],
            }
            for panel in figure.panels
        ],
    }


def _axis(scale: Scale, clock: Clock) -> dict[str, Any]:
    axis = scale.axis
    ends = [scale.low, scale.high]
    names = list(enumerate(axis.categories)) if axis.kind == "category" else axis.ticks
    return {
        "kind": axis.kind,
        "title": axis.title,
        "ends": [clock.wall(end) for end in ends] if axis.kind == "time" else ends,
        "at": [rounded(at) for at, _ in names],
        "words": [words for _, words in names],
    }


def _column(
    values: Sequence[Where] | Sequence[float | None], axis: Axis, clock: Clock
) -> list[float | None]:
    found = numbers(values, axis)
    if axis.kind == "time":
        return [None if value is None else clock.wall(value) for value in found]
    return [rounded(value) for value in found]


def _mark(mark: Mark, x: Axis, y: Axis, clock: Clock) -> dict[str, Any]:
    plain: dict[str, Any] = {"kind": type(mark).__name__.lower()}
    for name in ("name", "ink", "dash", "shape", "size", "width", "steps", "sideways"):
        if getattr(mark, name, ""):
            plain[name] = getattr(mark, name)
    match mark:
        case Cells():
            return plain | _cells(mark)
        case Level():
            return plain | {"y": rounded(mark.y), "words": mark.words}
        case Moment():
            (at,) = _column([number_of(mark.x, x)], x, clock)
            return plain | {"x": at, "words": mark.words}
    for name in ("words", "links"):
        if getattr(mark, name, ()):
            plain[name] = list(getattr(mark, name))
    across, along = (y, x) if getattr(mark, "sideways", False) else (x, y)
    for name in ("x", "at"):
        if hasattr(mark, name):
            plain[name] = _column(getattr(mark, name), across, clock)
    for name in ("y", "length", "low", "middle", "high"):
        if hasattr(mark, name):
            plain[name] = _column(getattr(mark, name), along, clock)
    return plain


def _cells(mark: Cells) -> dict[str, Any]:
    """The cells that hold something, as columns; how dark each is stands beside it."""
    held = [
        (row, column, value)
        for row, values in enumerate(mark.values)
        for column, value in enumerate(values)
        if value is not None
    ]
    plain: dict[str, Any] = {
        "row": [row for row, _, _ in held],
        "column": [column for _, column, _ in held],
        "share": [cell_share(value, mark) for _, _, value in held],
    }
    for name in ("words", "links", "shown"):
        table = getattr(mark, name)
        if table:
            plain[name] = [table[row][column] for row, column, _ in held]
    return plain

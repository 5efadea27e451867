"""What a picture shows, without saying how it is drawn.

A query or a sum makes a :class:`Figure`; ``svg.svg_of`` draws it as lines for the page and for
paper, ``static/brewhygiene/figure/`` makes it touchable from the same data, and ``table`` is
what a screen reader gets. Times are aware datetimes; a missing value is ``None`` and leaves a gap.
"""

import dataclasses
from collections.abc import Sequence
from datetime import datetime
from typing import Literal

Ink = Literal["ink", "soft", "blue", "sky", "teal", "orange", "vermilion", "purple", "yellow"]
Shape = Literal["disc", "ring", "square", "diamond", "up", "down", "cross", "plus"]
Dash = Literal["solid", "dash", "dot"]
Where = float | datetime | str


@dataclasses.dataclass(frozen=True)
class Axis:
    """One axis. ``low`` and ``high`` bound it where what is shown should not decide.

    ``ticks`` replaces the ticks chosen by themselves: pairs of a place and its words (as RLU at
    places of log10(RLU+1)). ``categories`` names the places 0, 1, 2 ... of a category axis, in
    order.
    """

    title: str = ""
    kind: Literal["number", "time", "category"] = "number"
    low: Where | None = None
    high: Where | None = None
    ticks: tuple[tuple[float, str], ...] = ()
    categories: tuple[str, ...] = ()


@dataclasses.dataclass(frozen=True)
class Line:
    """A line through points; ``None`` in ``y`` breaks it. ``name`` goes into the key."""

    x: Sequence[Where]
    y: Sequence[float | None]
    name: str = ""
    ink: Ink = "ink"
    dash: Dash = "solid"
    width: float = 1.75
    steps: bool = False


@dataclasses.dataclass(frozen=True)
class Dots:
    """Marks, each with what to say when it is touched, and where it leads."""

    x: Sequence[Where]
    y: Sequence[float | None]
    name: str = ""
    ink: Ink = "ink"
    shape: Shape = "disc"
    size: float = 7
    words: Sequence[str] = ()
    links: Sequence[str] = ()


@dataclasses.dataclass(frozen=True)
class Bars:
    """Bars from 0 at places or categories; ``width`` in units of the axis (1 of a category).

    ``sideways`` turns them: ``at`` then lies on the vertical axis.
    """

    at: Sequence[Where]
    length: Sequence[float]
    name: str = ""
    ink: Ink = "blue"
    width: float = 0.8
    words: Sequence[str] = ()
    links: Sequence[str] = ()
    sideways: bool = False


@dataclasses.dataclass(frozen=True)
class Spread:
    """Intervals: a bar from ``low`` to ``high`` at each place, with a dot at ``middle``.

    ``sideways``: the places are on the vertical axis, the intervals lie flat.
    """

    at: Sequence[Where]
    low: Sequence[float | None]
    middle: Sequence[float | None]
    high: Sequence[float | None]
    name: str = ""
    ink: Ink = "ink"
    shape: Shape = "disc"
    words: Sequence[str] = ()
    links: Sequence[str] = ()
    sideways: bool = False


@dataclasses.dataclass(frozen=True)
class Band:
    """A shaded stretch between two curves over ``x``."""

    x: Sequence[Where]
    low: Sequence[float]
    high: Sequence[float]
    name: str = ""
    ink: Ink = "teal"


@dataclasses.dataclass(frozen=True)
class Level:
    """A line right across at a value, with its words at its end."""

    y: float
    words: str = ""
    ink: Ink = "ink"
    dash: Dash = "dash"


@dataclasses.dataclass(frozen=True)
class Moment:
    """A line from top to bottom at a place, with its words at its head: an event."""

    x: Where
    words: str = ""
    ink: Ink = "soft"
    dash: Dash = "dot"


@dataclasses.dataclass(frozen=True)
class Cells:
    """A grid of values, as vessel against week: ``values[row][column]``, ``None`` where empty.

    Drawn light to dark from ``low`` to ``high``, each with ``words`` when touched and, where
    ``shown`` is given, written in it. Both axes are categories.
    """

    values: Sequence[Sequence[float | None]]
    low: float
    high: float
    name: str = ""
    words: Sequence[Sequence[str]] = ()
    shown: Sequence[Sequence[str]] = ()
    links: Sequence[Sequence[str]] = ()


Mark = Line | Dots | Bars | Spread | Band | Level | Moment | Cells


@dataclasses.dataclass(frozen=True)
class Panel:
    """One pair of axes. Panels of a figure stand one above the other and share the x axis's range.

    ``height`` is relative to the other panels.
    """

    x: Axis
    y: Axis
    marks: Sequence[Mark]
    title: str = ""
    height: float = 1


@dataclasses.dataclass(frozen=True)
class Table:
    """The same numbers in rows, as words; ``links`` leads from a row, or is empty."""

    headings: Sequence[str]
    rows: Sequence[Sequence[str]]
    links: Sequence[str] = ()


@dataclasses.dataclass(frozen=True)
class Figure:
    """A picture with its caption, one sentence that says what it shows, and its numbers."""

    name: str  # letters, digits and hyphens; once on a page
    caption: str
    says: str
    panels: Sequence[Panel]
    table: Table
    height_px: int = 340

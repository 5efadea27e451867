"""Invented figures with every kind of mark."""

import math
import random
from datetime import UTC, datetime, timedelta

from brewhygiene.drawing.figure import (
    Axis,
    Band,
    Bars,
    Cells,
    Dots,
    Figure,
    Level,
    Line,
    Moment,
    Panel,
    Shape,
    Spread,
    Table,
)

START = datetime(2026, 3, 2, 8, tzinfo=UTC)
RLU = Axis(
    title="RLU",
    ticks=tuple((math.log10(rlu + 1), str(rlu)) for rlu in (0, 1, 3, 10, 30, 100, 300, 1000)),
)
VESSELS = ("FV-01", "FV-02", "FV-03", "BBT-1 beside the centrifuge")
SHAPES: tuple[Shape, ...] = ("disc", "ring", "square", "diamond", "up", "down", "cross", "plus")


def readings(*, count: int, panels: int = 1, name: str = "readings") -> Figure:
    """Control charts: dots with words and links, a gap, limits, events."""
    drawn = [_chart(place, count) for place in range(panels)]
    xs = drawn[0].marks[2].x  # type: ignore[union-attr]
    return Figure(
        name=name,
        caption="Readings of the racking valve",
        says="Steady around 30 RLU; the last three are above the alert level.",
        panels=drawn,
        table=Table(
            headings=("Taken", "RLU"),
            rows=[(f"{x:%d %b %Y}", str(place)) for place, x in enumerate(xs)],
            links=[f"/atp-readings/{place + 1}/" for place in range(count)],
        ),
        height_px=max(320, 220 * panels),
    )


def _chart(place: int, count: int) -> Panel:
    chance = random.Random(place)
    x = [START + timedelta(hours=18 * n) for n in range(count)]
    y: list[float | None] = [math.log10(1 + abs(chance.gauss(30, 12))) for _ in x]
    line = list(y)
    line[count // 2] = None
    return Panel(
        x=Axis(kind="time"),
        y=RLU,
        title=f"Point {place + 1} <valve> & hose",
        marks=(
            Band(x=[x[0], x[-1]], low=[1.1, 1.1], high=[1.7, 1.7], name="usual", ink="teal"),
            Line(x=x, y=line, ink="soft", width=1),
            Dots(
                x=x,
                y=y,
                name="clear",
                ink="blue",
                words=[f"Reading {n + 1} of {count}" for n in range(count)],
                links=[f"/atp-readings/{n + 1}/" for n in range(count)],
            ),
            Dots(x=x[-3:], y=y[-3:], name="alert", ink="purple", shape="diamond", size=10),
            Level(y=1.85, words="alert level 70", ink="purple"),
            Level(y=1.9, words="action limit 80", ink="vermilion"),
            Moment(x=x[count // 3], words="New gasket"),
            Moment(x=x[count // 3 + 1], words="Regime version 3"),
            Moment(x=x[-1], words="New lot of swabs"),
        ),
    )


def shares() -> Figure:
    return Figure(
        name="shares",
        caption="Clean the first time, by vessel",
        says="FV-02 is below the others, though its interval reaches them.",
        panels=[
            Panel(
                x=Axis(title="clean the first time, %", low=0, high=100),
                y=Axis(kind="category", categories=VESSELS),
                marks=[
                    Spread(
                        at=VESSELS,
                        low=[70, 35, 60, None],
                        middle=[82, 55, 78, 90],
                        high=[92, 74, 88, None],
                        name="share and 95 % interval",
                        sideways=True,
                    )
                ],
            )
        ],
        table=Table(("Vessel", "Share"), [(name, "…") for name in VESSELS]),
        height_px=240,
    )


def causes() -> Figure:
    names = ("caustic too weak", "rinse too short", "too cold", "left out")
    return Figure(
        name="causes",
        caption="What went wrong",
        says="Weak caustic is behind half of all deviations.",
        panels=[
            Panel(
                x=Axis(kind="category", categories=names),
                y=Axis(title="deviations"),
                marks=[
                    Bars(at=names, length=[20, 12, 5, 2], name="deviations", ink="orange"),
                    Line(x=names, y=[20, 32, 37, 39], name="together", steps=True),
                ],
            )
        ],
        table=Table(("Cause", "Deviations"), [(name, "…") for name in names]),
        height_px=300,
    )


def weeks() -> Figure:
    columns = tuple(f"{n + 1}" for n in range(26))
    values: list[list[float | None]] = [
        [None if (row + n) % 5 == 0 else float((row * n) % 11) for n in range(26)]
        for row in range(len(VESSELS))
    ]
    return Figure(
        name="weeks",
        caption="Re-cleans by vessel and week",
        says="No week stands out.",
        panels=[
            Panel(
                x=Axis(kind="category", categories=columns, title="week"),
                y=Axis(kind="category", categories=VESSELS),
                marks=[
                    Cells(
                        values=values,
                        low=0,
                        high=10,
                        words=[[f"{name}, week {week}" for week in columns] for name in VESSELS],
                        shown=[["" if v is None else f"{v:g}" for v in row] for row in values],
                    )
                ],
            )
        ],
        table=Table(("Vessel", "Re-cleans"), [(name, "…") for name in VESSELS]),
        height_px=220,
    )


def shapes() -> Figure:
    inks = ("blue", "sky", "teal", "orange", "vermilion", "purple", "yellow", "ink")
    return Figure(
        name="shapes",
        caption="Every shape in every ink",
        says="Eight shapes in eight inks.",
        panels=[
            Panel(
                x=Axis(title="place", low=0, high=9),
                y=Axis(),
                marks=[
                    Dots(x=[n + 1, n + 1], y=[n, 2], shape=shape, ink=ink, name=f"{shape}, {ink}")  # type: ignore[arg-type]
                    for n, (shape, ink) in enumerate(zip(SHAPES, inks, strict=True))
                ]
                + [Bars(at=[0.5, 8.5], length=[-2, 3], width=0.5, name="bars")],  # type: ignore[list-item]
            )
        ],
        table=Table(("Shape",), [(shape,) for shape in SHAPES]),
    )


def gallery() -> list[Figure]:
    return [
        readings(count=40),
        readings(count=400, panels=2, name="long"),
        shares(),
        causes(),
        weeks(),
        shapes(),
    ]

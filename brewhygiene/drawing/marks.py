"""Each kind of mark as SVG, within the plotting area of one panel."""

import dataclasses
import itertools
from collections.abc import Iterable, Iterator, Sequence
from datetime import tzinfo
from html import escape
from typing import Any

from brewhygiene.drawing.figure import (
    Band,
    Bars,
    Cells,
    Dash,
    Dots,
    Level,
    Line,
    Mark,
    Moment,
    Shape,
    Spread,
    Where,
)
from brewhygiene.drawing.inks import DASHES, PALE, Inks
from brewhygiene.drawing.scales import Scale, number_of, numbers

# More dots than these are one path, without words of their own: the table has them.
FEW = 60
# From this share on, what is written in a cell is light on dark: both have a contrast of 4.5.
DARK_CELL = 0.72
CAP_PX = 3.5


@dataclasses.dataclass(frozen=True)
class Plot:
    """The plotting area of a panel in px of the drawing, and its scales."""

    left: float
    top: float
    width: float
    height: float
    x: Scale
    y: Scale
    inks: Inks
    font_px: float
    zone: tzinfo

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height

    def across(self, value: float) -> float:
        return self.left + self.x.share(value) * self.width

    def down(self, value: float) -> float:
        """From the top: numbers grow upwards, categories are read downwards."""
        share = self.y.share(value)
        return self.top + (share if self.y.axis.kind == "category" else 1 - share) * self.height

    def xs(self, values: Sequence[Where] | Sequence[float | None]) -> list[float | None]:
        low, factor, left = self.x.low, self.width / (self.x.high - self.x.low), self.left
        return [
            None if v is None else left + (v - low) * factor for v in numbers(values, self.x.axis)
        ]

    def ys(self, values: Sequence[Where] | Sequence[float | None]) -> list[float | None]:
        at, factor, low = self.bottom, -self.height / (self.y.high - self.y.low), self.y.low
        if self.y.axis.kind == "category":
            at, factor = self.top, -factor
        return [
            None if v is None else at + (v - low) * factor for v in numbers(values, self.y.axis)
        ]


def drawn(mark: Mark, plot: Plot) -> str:
    """A mark as SVG elements; levels and moments without their words."""
    match mark:
        case Line():
            return _line(mark, plot)
        case Dots():
            return _dots(mark, plot)
        case Bars():
            return _bars(mark, plot)
        case Spread():
            return _spread(mark, plot)
        case Band():
            return _band(mark, plot)
        case Cells():
            return _cells(mark, plot)
        case Level():
            at = plot.down(mark.y)
            path = f"M{plot.left:.1f} {at:.1f}H{plot.right:.1f}"
            return stroked(path, plot.inks[mark.ink], 1.25, mark.dash)
        case Moment():
            place = plot.across(number_of(mark.x, plot.x.axis))
            path = f"M{place:.1f} {plot.top:.1f}V{plot.bottom:.1f}"
            return stroked(path, plot.inks[mark.ink], 1.25, mark.dash)


def stroked(path: str, colour: str, width: float, dash: Dash = "solid") -> str:
    pattern = f' stroke-dasharray="{DASHES[dash]}"' if DASHES[dash] else ""
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width:g}"'
        f' stroke-linejoin="round"{pattern}/>'
    )


def _line(mark: Line, plot: Plot) -> str:
    pieces: list[str] = []
    last: float | None = None
    for x, y in zip(plot.xs(mark.x), plot.ys(mark.y), strict=True):
        if x is None or y is None:
            last = None
            continue
        if last is None:
            pieces.append(f"M{x:.1f} {y:.1f}")
        elif mark.steps:
            pieces.append(f"H{x:.1f}V{y:.1f}")
        else:
            pieces.append(f"L{x:.1f} {y:.1f}")
        last = y
    return stroked("".join(pieces), plot.inks[mark.ink], mark.width, mark.dash) if pieces else ""


def shape_path(shape: Shape, x: float, y: float, r: float) -> str:
    """The outline of a mark around a place; a disc is a point, drawn by a round pen."""
    match shape:
        case "disc":
            return f"M{x:.1f} {y:.1f}h.01"
        case "ring":
            return (
                f"M{x - r:.1f} {y:.1f}a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0 {-2 * r:g} 0"
            )
        case "square":
            s = 0.89 * r
            return f"M{x - s:.1f} {y - s:.1f}h{2 * s:.1f}v{2 * s:.1f}h{-2 * s:.1f}z"
        case "diamond":
            d = 1.2 * r
            return f"M{x - d:.1f} {y:.1f}l{d:.1f} {-d:.1f}l{d:.1f} {d:.1f}l{-d:.1f} {d:.1f}z"
        case "up":
            return (
                f"M{x - 1.1 * r:.1f} {y + 0.9 * r:.1f}h{2.2 * r:.1f}l{-1.1 * r:.1f} {-2 * r:.1f}z"
            )
        case "down":
            return f"M{x - 1.1 * r:.1f} {y - 0.9 * r:.1f}h{2.2 * r:.1f}l{-1.1 * r:.1f} {2 * r:.1f}z"
        case "cross":
            return f"M{x - r:.1f} {y - r:.1f}l{2 * r:g} {2 * r:g}m{-2 * r:g} 0l{2 * r:g} {-2 * r:g}"
        case "plus":
            return f"M{x - r:.1f} {y:.1f}h{2 * r:g}m{-r:g} {-r:g}v{2 * r:g}"


def _pen(shape: Shape, ink: str, size: float, inks: Inks) -> tuple[str, str]:
    """The attributes that draw a shape, and those of the edge below a pale one."""
    colour = inks[ink]
    edge = inks["soft"]
    match shape:
        case "disc":
            pen = f'fill="none" stroke-linecap="round" stroke="{colour}" stroke-width="{size:g}"'
            under = (
                f'fill="none" stroke-linecap="round" stroke="{edge}" stroke-width="{size + 1.5:g}"'
            )
            return pen, under if ink in PALE else ""
        case "square" | "diamond" | "up" | "down":
            if ink in PALE:
                return f'fill="{colour}" stroke="{edge}" stroke-width="0.75"', ""
            return f'fill="{colour}"', ""
        case _:
            return f'fill="none" stroke="{colour}" stroke-width="1.75"', ""


def marker(shape: Shape, ink: str, size: float, inks: Inks, *, x: float, y: float) -> str:
    """One mark, as it stands in the key."""
    pen, under = _pen(shape, ink, size, inks)
    path = shape_path(shape, x, y, size / 2)
    below = f'<path d="{path}" {under}/>' if under else ""
    return f'{below}<path d="{path}" {pen}/>'


def _dots(mark: Dots, plot: Plot) -> str:
    places = list(zip(plot.xs(mark.x), plot.ys(mark.y), strict=True))
    if len(places) > FEW or not (mark.words or mark.links):
        pen, under = _pen(mark.shape, mark.ink, mark.size, plot.inks)
        r = mark.size / 2
        if mark.shape == "disc":
            path = "".join(
                [f"M{x:.1f} {y:.1f}h.01" for x, y in places if x is not None and y is not None]
            )
        else:
            path = "".join(
                shape_path(mark.shape, x, y, r)
                for x, y in places
                if x is not None and y is not None
            )
        below = f'<path d="{path}" {under}/>' if under else ""
        return f'{below}<path d="{path}" {pen}/>' if path else ""
    return "".join(
        linked(marker(mark.shape, mark.ink, mark.size, plot.inks, x=x, y=y), words, link)
        for (x, y), words, link in _each(places, mark.words, mark.links)
        if x is not None and y is not None
    )


def linked(drawing: str, words: str, link: str) -> str:
    """A part of the drawing with its words for a pointer that rests on it, and its link."""
    title = f"<title>{escape(words)}</title>" if words else ""
    if link:
        return f'<a href="{escape(link)}">{title}{drawing}</a>'
    return f"<g>{title}{drawing}</g>" if title else drawing


def _each(
    parts: Sequence[Any], words: Sequence[str], links: Sequence[str]
) -> Iterator[tuple[Any, str, str]]:
    """Parts with their words and links, each either given for all or for none."""
    return zip(parts, words or [""] * len(parts), links or [""] * len(parts), strict=True)


def _bars(mark: Bars, plot: Plot) -> str:
    at = numbers(mark.at, (plot.y if mark.sideways else plot.x).axis)
    pieces = []
    pairs = list(zip(at, mark.length, strict=True))
    few = len(pairs) <= FEW
    half = mark.width / 2
    for (place, length), words, link in _each(pairs, mark.words, mark.links):
        if place is None:
            continue
        if mark.sideways:
            ends = sorted((plot.across(0), plot.across(length)))
            sides = sorted((plot.down(place - half), plot.down(place + half)))
            x, y, wide, high = ends[0], sides[0], ends[1] - ends[0], sides[1] - sides[0]
        else:
            ends = sorted((plot.down(0), plot.down(length)))
            sides = sorted((plot.across(place - half), plot.across(place + half)))
            x, y, wide, high = sides[0], ends[0], sides[1] - sides[0], ends[1] - ends[0]
        box = f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide:.1f}" height="{high:.1f}"/>'
        pieces.append(linked(box, words, link) if few else box)
    edge = f' stroke="{plot.inks["soft"]}" stroke-width="0.75"' if mark.ink in PALE else ""
    return f'<g fill="{plot.inks[mark.ink]}"{edge}>{"".join(pieces)}</g>'


def _spread(mark: Spread, plot: Plot) -> str:
    if mark.sideways:
        at, low, middle, high = (
            plot.ys(mark.at),
            *(plot.xs(end) for end in _columns(mark)),
        )
    else:
        at, low, middle, high = (
            plot.xs(mark.at),
            *(plot.ys(end) for end in _columns(mark)),
        )
    pieces = []
    rows = list(zip(at, low, middle, high, strict=True))
    few = len(rows) <= FEW
    for (place, least, mid, most), words, link in _each(rows, mark.words, mark.links):
        if place is None:
            continue
        piece = ""
        if least is not None and most is not None:
            a, b, near, far = place - CAP_PX, place + CAP_PX, least, most
            if mark.sideways:
                caps = f"M{near:.1f} {a:.1f}V{b:.1f}M{far:.1f} {a:.1f}V{b:.1f}"
                path = f"{caps}M{near:.1f} {place:.1f}H{far:.1f}"
            else:
                caps = f"M{a:.1f} {near:.1f}H{b:.1f}M{a:.1f} {far:.1f}H{b:.1f}"
                path = f"{caps}M{place:.1f} {near:.1f}V{far:.1f}"
            piece += stroked(path, plot.inks[mark.ink], 1.5)
        if mid is not None:
            x, y = (mid, place) if mark.sideways else (place, mid)
            piece += marker(mark.shape, mark.ink, 7, plot.inks, x=x, y=y)
        pieces.append(linked(piece, words, link) if few and piece else piece)
    return "".join(pieces)


def _columns(mark: Spread) -> tuple[Sequence[float | None], ...]:
    return mark.low, mark.middle, mark.high


def _band(mark: Band, plot: Plot) -> str:
    xs = plot.xs(mark.x)
    above = list(zip(xs, plot.ys(mark.high), strict=True))
    below = list(zip(xs, plot.ys(mark.low), strict=True))
    path = "L".join(f"{x:.1f} {y:.1f}" for x, y in [*above, *reversed(below)])
    return f'<path d="M{path}z" fill="{plot.inks[mark.ink]}" fill-opacity="0.2"/>' if xs else ""


def cell_share(value: float, mark: Cells) -> float:
    """How dark a cell is: 0 as the sheet, 1 in full colour."""
    share = (value - mark.low) / (mark.high - mark.low) if mark.high > mark.low else 1.0
    return round(0.06 + 0.94 * min(max(share, 0.0), 1.0), 2)


def _cells(mark: Cells, plot: Plot) -> str:
    wide = plot.across(1) - plot.across(0)
    high = plot.down(1) - plot.down(0)
    count = sum(len(row) for row in mark.values)
    boxes: list[str] = []
    writing: list[str] = []
    for row, values in enumerate(mark.values):
        top = plot.down(row - 0.5)
        for column, value in enumerate(values):
            if value is None:
                continue
            left = plot.across(column - 0.5)
            share = cell_share(value, mark)
            box = (
                f'<rect x="{left + 0.5:.1f}" y="{top + 0.5:.1f}" width="{max(wide - 1, 0.5):.1f}"'
                f' height="{max(high - 1, 0.5):.1f}" fill-opacity="{share:g}"/>'
            )
            words = mark.words[row][column] if mark.words else ""
            link = mark.links[row][column] if mark.links else ""
            if words and count <= 20 * FEW:
                box = linked(box, words, link if count <= FEW else "")
            boxes.append(box)
            if mark.shown and mark.shown[row][column]:
                ink = plot.inks["cell-high" if share >= DARK_CELL else "cell-low"]
                writing.append(
                    text(
                        mark.shown[row][column],
                        x=left + wide / 2,
                        y=top + high / 2 + plot.font_px * 0.35,
                        anchor="middle",
                        ink=ink,
                    )
                )
    return f'<g fill="{plot.inks["cell"]}">{"".join(boxes)}</g>{"".join(writing)}'


def text(words: str, *, x: float, y: float, ink: str, anchor: str = "start", more: str = "") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{ink}"{more}>'
        f"{escape(words)}</text>"
    )


def haloed(words: str, *, x: float, y: float, inks: Inks, ink: str, anchor: str = "start") -> str:
    """Words over a drawing, with an edge of the sheet's colour around them."""
    edge = (
        f' stroke="{inks["sheet"]}" stroke-width="3.5" stroke-linejoin="round" aria-hidden="true"'
    )
    return text(words, x=x, y=y, ink=inks["sheet"], anchor=anchor, more=edge) + text(
        words, x=x, y=y, ink=inks[ink], anchor=anchor
    )


def named(marks: Iterable[Mark]) -> list[Mark]:
    """The marks that stand in the key: the first of each name."""
    found: dict[str, Mark] = {}
    for mark in marks:
        name = getattr(mark, "name", "")
        if name and not isinstance(mark, Cells):
            found.setdefault(name, mark)
    return list(found.values())


def in_key(mark: Mark, inks: Inks) -> str:
    """A mark as it stands in the key, in a box of 22 by 14."""
    match mark:
        case Line():
            return stroked("M1 7H21", inks[mark.ink], mark.width, mark.dash)
        case Dots():
            return marker(mark.shape, mark.ink, min(mark.size, 9), inks, x=11, y=7)
        case Bars():
            edge = f' stroke="{inks["soft"]}" stroke-width="0.75"' if mark.ink in PALE else ""
            return f'<rect x="5" y="2" width="12" height="10" fill="{inks[mark.ink]}"{edge}/>'
        case Spread():
            path = "M2 7H20M2 4V10M20 4V10"
            return stroked(path, inks[mark.ink], 1.5) + marker(
                mark.shape, mark.ink, 7, inks, x=11, y=7
            )
        case Band():
            box = '<rect x="2" y="2" width="18" height="10" fill-opacity="0.2"'
            return f'{box} fill="{inks[mark.ink]}"/>'
        case _:
            return ""


def text_width(words: str, font_px: float) -> float:
    """About how wide words are, without a font to measure them with: a little more than less."""
    return sum(_WIDTHS.get(sign, 0.56) for sign in words) * font_px


_WIDTHS = dict(
    itertools.chain(
        ((sign, 0.3) for sign in "ijlIt.,:;'|!/ ()[]-f"),
        ((sign, 0.86) for sign in "mwMW@%"),
        ((sign, 0.7) for sign in "ABCDEGHKNOPQRSUVXYZ&"),
    )
)

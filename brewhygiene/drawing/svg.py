"""A figure as SVG: for the page as it comes from the server, and for paper."""

import dataclasses
from collections.abc import Sequence
from datetime import tzinfo
from html import escape

from django.utils import timezone

from brewhygiene.drawing.figure import Figure, Level, Moment, Panel
from brewhygiene.drawing.inks import Inks
from brewhygiene.drawing.marks import Plot, drawn, haloed, in_key, named, stroked, text, text_width
from brewhygiene.drawing.scales import Scale, Tick, number_of, own_y, shared_x

SCREEN_FONT_PX = 13.0
PAPER_FONT_PX = 10.5
FONTS = "Liberation Sans, Helvetica Neue, Arial, DejaVu Sans, sans-serif"
MOMENT_ROWS = 3
EDGE_PX = 8.0


@dataclasses.dataclass(frozen=True)
class Sheet:
    """What all parts of one drawing go by."""

    width: float
    height: float
    font_px: float
    inks: Inks
    zone: tzinfo

    def text_width(self, words: str) -> float:
        # The page's own font may be any; that of paper is known.
        return text_width(words, self.font_px) * (1.0 if self.inks.paper else 1.14)

    @property
    def line_px(self) -> float:
        return self.font_px * 1.35


def svg_of(
    figure: Figure,
    *,
    paper: bool = False,
    width_px: float = 960,
    height_px: float | None = None,
    key: bool | None = None,
    part: str = "",
    zone: tzinfo | None = None,
) -> str:
    """The whole figure as one ``<svg>`` element, ``width_px`` wide.

    On a screen its colours are variables of the page (``chart.css``); on paper they are fixed,
    and the key is drawn in it. Times are of ``zone``, else of the active time zone. ``part`` tells
    two drawings of one figure on a page apart.
    """
    sheet = Sheet(
        width=width_px,
        height=height_px or figure.height_px,
        font_px=PAPER_FONT_PX if paper else SCREEN_FONT_PX,
        inks=Inks(paper),
        zone=zone or timezone.get_current_timezone(),
    )
    pieces: list[str] = []
    top = 2.0
    if paper if key is None else key:
        keys, used = _key(figure, sheet)
        pieces.append(keys)
        top += used
    pieces += _panels(dataclasses.replace(figure, name=f"{figure.name}{part}"), sheet, top)
    family = f' font-family="{FONTS}"' if paper else ""
    ids = "" if paper else f' aria-labelledby="{figure.name}-caption"'
    role = "group" if _has_links(figure) and not paper else "img"
    label = f' role="{role}"{ids}' if not paper else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {sheet.width:g} {sheet.height:g}"'
        f' width="{sheet.width:g}" height="{sheet.height:g}" font-size="{sheet.font_px:g}"'
        f"{family}{label}>{''.join(pieces)}</svg>"
    )


def _has_links(figure: Figure) -> bool:
    return any(getattr(mark, "links", ()) for panel in figure.panels for mark in panel.marks)


def swatch(mark: object, *, paper: bool = False) -> str:
    """A mark of the key as a small drawing of its own."""
    inside = in_key(mark, Inks(paper))  # type: ignore[arg-type]
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 22 14" width="22" height="14"'
        f' aria-hidden="true">{inside}</svg>'
    )


def _key(figure: Figure, sheet: Sheet) -> tuple[str, float]:
    """The key above the panels, in as many lines as it needs, and how high it is."""
    pieces: list[str] = []
    x, y = 0.0, 0.0
    marks = named(mark for panel in figure.panels for mark in panel.marks)
    for mark in marks:
        name = mark.name  # type: ignore[union-attr]
        room = 26 + sheet.text_width(name) + 12
        if x and x + room > sheet.width:
            x, y = 0.0, y + sheet.line_px
        pieces.append(f'<g transform="translate({x:.1f} {y:.1f})">{in_key(mark, sheet.inks)}</g>')
        pieces.append(text(name, x=x + 26, y=y + 7 + sheet.font_px * 0.35, ink=sheet.inks["ink"]))
        x += room
    return "".join(pieces), (y + sheet.line_px + 4 if marks else 0.0)


@dataclasses.dataclass(frozen=True)
class Moments:
    """Where the words of a panel's moments stand: the row and the place of each."""

    rows: int
    placed: Sequence[tuple[Moment, int, str]]


def _moments(panel: Panel, sheet: Sheet, x: Scale, left: float, right: float) -> Moments:
    """The words in rows where they do not run into each other; what finds no room is left out."""
    ends = [left - 1.0] * MOMENT_ROWS
    placed = []
    marks = [mark for mark in panel.marks if isinstance(mark, Moment) and mark.words]
    for mark in sorted(marks, key=lambda each: number_of(each.x, panel.x)):
        place = left + x.share(number_of(mark.x, panel.x)) * (right - left)
        if not left - 1 <= place <= right + 1:
            continue
        width = sheet.text_width(mark.words)
        anchor = "start" if place + width <= sheet.width else "end"
        begin = place if anchor == "start" else place - width
        row = next((row for row, end in enumerate(ends) if begin > end), None)
        if row is None or begin < 0:
            continue
        ends[row] = begin + width + 6
        placed.append((mark, row, anchor))
    return Moments(rows=1 + max((row for _, row, _ in placed), default=-1), placed=placed)


def _left_room(figure: Figure, sheet: Sheet, scales: Sequence[Scale], high: float) -> float:
    """Room for the longest words on a vertical axis, at most two fifths of the width."""
    words = [
        words
        for scale in scales
        for _, words in scale.ticks(_rows_most(scale, high / len(figure.panels), sheet), sheet.zone)
    ]
    room = max((sheet.text_width(each) for each in words), default=0.0) + 8
    return min(max(room, 20.0), sheet.width * 0.4)


def _rows_most(scale: Scale, high: float, sheet: Sheet) -> int:
    if scale.axis.kind == "category":
        return int(high / (sheet.font_px * 1.05))
    return max(2, min(8, int(high / (sheet.font_px * 2.2))))


def _shortened(words: str, room: float, sheet: Sheet) -> str:
    if sheet.text_width(words) <= room:
        return words
    while words and sheet.text_width(words) > room - sheet.font_px * 0.8:
        words = words[:-1]
    return words.rstrip() + "…"


@dataclasses.dataclass(frozen=True)
class Foot:
    """The words under the lowest panel: level, or slanted where they are long."""

    ticks: Sequence[Tick]
    slanted: bool
    height: float


def _foot(scale: Scale, sheet: Sheet, width: float, title: str) -> Foot:
    ticks = scale.ticks(_columns_most(scale, width, sheet), sheet.zone)
    below = sheet.line_px + 3 + (sheet.line_px if title else 0)
    if scale.axis.kind != "category" and not scale.axis.ticks:
        return Foot(ticks, False, below)
    room = width / max(len(ticks), 1) - 6
    longest = max((sheet.text_width(words) for _, words in ticks), default=0.0)
    if longest <= room:
        return Foot(ticks, False, below)
    # Slanted by 35 degrees: half as high as long.
    short = [
        (at, _shortened(words, 110 if sheet.width > 300 else 60, sheet)) for at, words in ticks
    ]
    longest = max(sheet.text_width(words) for _, words in short)
    return Foot(short, True, below + longest * 0.57)


def _columns_most(scale: Scale, width: float, sheet: Sheet) -> int:
    if scale.axis.kind == "category":
        # As many as stand level, else as many as stand slanted.
        longest = max((sheet.text_width(name) for name in scale.axis.categories), default=1.0)
        if len(scale.axis.categories) > 26 and longest < 60:
            return max(2, int(width / (longest + 8)))
        return max(2, int(width / (sheet.font_px * 1.3)))
    if scale.axis.ticks:
        longest = max(sheet.text_width(words) for _, words in scale.axis.ticks)
        return max(2, int(width / (longest + 8)))
    return max(2, int(width / (sheet.font_px * (6.5 if scale.axis.kind == "time" else 4.5))))


def _panels(figure: Figure, sheet: Sheet, top: float) -> list[str]:
    x = shared_x(figure.panels)
    ys = [own_y(panel) for panel in figure.panels]
    free = sheet.height - top
    left = _left_room(figure, sheet, ys, free)
    right = sheet.width - EDGE_PX
    foot = _foot(x, sheet, right - left, figure.panels[-1].x.title)
    moments = [_moments(panel, sheet, x, left, right) for panel in figure.panels]
    heads = [
        (sheet.line_px + 2 if panel.title or panel.y.title else 4) + each.rows * sheet.line_px
        for panel, each in zip(figure.panels, moments, strict=True)
    ]
    gap = 10.0
    free -= sum(heads) + foot.height + gap * (len(heads) - 1) + 2
    shares = sum(panel.height for panel in figure.panels)
    pieces = []
    for place, panel in enumerate(figure.panels):
        high = max(free * panel.height / shares, 24.0)
        plot = Plot(
            left=left,
            top=top + heads[place],
            width=right - left,
            height=high,
            x=x,
            y=ys[place],
            inks=sheet.inks,
            font_px=sheet.font_px,
            zone=sheet.zone,
        )
        lowest = place == len(figure.panels) - 1
        pieces.append(
            _panel(panel, plot, sheet, moments[place], foot, f"{figure.name}-{place}", lowest)
        )
        pieces.append(_panel_title(panel, sheet, left if panel.title else 0.0, top))
        top += heads[place] + high + gap
    return pieces


def _panel_title(panel: Panel, sheet: Sheet, left: float, top: float) -> str:
    """The panel's title and what its vertical axis counts, level above it, where they are read."""
    inks = sheet.inks
    y = top + sheet.font_px
    if not panel.title:
        return text(panel.y.title, x=left, y=y, ink=inks["soft"]) if panel.y.title else ""
    spans = f'<tspan font-weight="bold">{escape(panel.title)}</tspan>'
    if panel.y.title:
        spans += f'<tspan fill="{inks["soft"]}">, {escape(panel.y.title)}</tspan>'
    return f'<text x="0" y="{y:.1f}" fill="{inks["ink"]}">{spans}</text>'


def _panel(
    panel: Panel,
    plot: Plot,
    sheet: Sheet,
    moments: Moments,
    foot: Foot,
    name: str,
    lowest: bool,
) -> str:
    clip = f"{escape(name)}-clip"
    inks = sheet.inks
    box = (
        f'x="{plot.left:.1f}" y="{plot.top:.1f}" width="{plot.width:.1f}"'
        f' height="{plot.height:.1f}"'
    )
    marks = "".join(drawn(mark, plot) for mark in panel.marks)
    return "".join(
        [
            f'<clipPath id="{clip}"><rect {box}/></clipPath>',
            _grid(plot, sheet, foot, lowest),
            f'<g clip-path="url(#{clip})">{marks}</g>',
            stroked(
                f"M{plot.left:.1f} {plot.top:.1f}V{plot.bottom:.1f}H{plot.right:.1f}",
                inks["line"],
                1,
            ),
            _levels(panel, plot, sheet),
            _moment_words(moments, plot, sheet),
            _x_title(panel, plot, sheet, foot) if lowest else "",
        ]
    )


def _grid(plot: Plot, sheet: Sheet, foot: Foot, lowest: bool) -> str:
    inks = sheet.inks
    lines: list[str] = []
    words: list[str] = []
    for value, label in plot.y.ticks(_rows_most(plot.y, plot.height, sheet), sheet.zone):
        at = plot.down(value)
        if plot.y.axis.kind != "category":
            lines.append(f"M{plot.left:.1f} {at:.1f}H{plot.right:.1f}")
        words.append(
            text(
                _shortened(label, plot.left - 6, sheet),
                x=plot.left - 6,
                y=at + sheet.font_px * 0.35,
                anchor="end",
                ink=inks["ink"],
            )
        )
    for value, label in foot.ticks:
        at = plot.across(value)
        if plot.x.axis.kind != "category":
            lines.append(f"M{at:.1f} {plot.top:.1f}V{plot.bottom:.1f}")
        if lowest:
            words.append(_foot_words(label, at, plot, sheet, foot))
    return stroked("".join(lines), inks["grid"], 1) + "".join(words)


def _foot_words(label: str, at: float, plot: Plot, sheet: Sheet, foot: Foot) -> str:
    y = plot.bottom + sheet.font_px + 4
    if foot.slanted:
        turn = f' transform="rotate(-35 {at + 4:.1f} {y:.1f})"'
        return text(label, x=at + 4, y=y, anchor="end", ink=sheet.inks["ink"], more=turn)
    half = sheet.text_width(label) / 2
    # Words at the very end stay on the sheet.
    at = min(at, sheet.width - half - 1)
    return text(label, x=at, y=y, anchor="middle", ink=sheet.inks["ink"])


def _x_title(panel: Panel, plot: Plot, sheet: Sheet, foot: Foot) -> str:
    if not panel.x.title:
        return ""
    return text(
        panel.x.title,
        x=plot.left + plot.width / 2,
        y=plot.bottom + foot.height - 4,
        anchor="middle",
        ink=sheet.inks["soft"],
    )


def _levels(panel: Panel, plot: Plot, sheet: Sheet) -> str:
    """Words of levels at their right end: above the line, or below where there is no room."""
    pieces = []
    used = plot.top - 2
    for level in sorted(
        (mark for mark in panel.marks if isinstance(mark, Level) and mark.words),
        key=lambda each: -each.y,
    ):
        if not plot.y.low <= level.y <= plot.y.high:
            continue
        line = plot.down(level.y)
        y = line - 4
        if y - sheet.font_px < used:
            y = max(line + sheet.font_px + 1, used + sheet.font_px)
        used = y + 3
        pieces.append(
            haloed(level.words, x=plot.right - 3, y=y, inks=sheet.inks, ink="ink", anchor="end")
        )
    return "".join(pieces)


def _moment_words(moments: Moments, plot: Plot, sheet: Sheet) -> str:
    pieces = []
    for mark, row, anchor in moments.placed:
        at = plot.across(number_of(mark.x, plot.x.axis))
        y = plot.top - 5 - row * sheet.line_px
        if row:
            line = f"M{at:.1f} {plot.top:.1f}V{y + 2:.1f}"
            pieces.append(stroked(line, sheet.inks[mark.ink], 1, mark.dash))
        side = 2 if anchor == "start" else -2
        pieces.append(text(mark.words, x=at + side, y=y, anchor=anchor, ink=sheet.inks["ink"]))
    return "".join(pieces)

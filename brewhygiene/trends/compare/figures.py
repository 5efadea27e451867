"""Pictures of the weeks, of what happens most, and of all factors taken together."""

import math
from collections.abc import Callable, Sequence

from brewhygiene.drawing.figure import (
    Axis,
    Bars,
    Cells,
    Figure,
    Ink,
    Mark,
    Moment,
    Panel,
    Shape,
    Spread,
    Table,
)
from brewhygiene.quantities.style import digits, shown_moment
from brewhygiene.quantities.words import percent
from brewhygiene.science.rates.odds import Effect, Regression
from brewhygiene.science.rates.pareto import Pareto
from brewhygiene.science.rates.weeks import Calendar
from brewhygiene.trends.compare.rate_figures import MOST_ROWS, ROW_PX
from brewhygiene.trends.words import long_day_words

MOST_EFFECTS = 20
FEW = 12
RATIOS = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20)


def weeks_figure(calendar: Calendar, *, addresses: Sequence[str], left_out: int) -> Figure:
    """Vessel by week: how many turnarounds were not clean the first time."""
    weeks = [shown_moment(monday, "j M") for monday in calendar.mondays]
    known = [
        [None if cell.share is None else float(cell.count) for cell in row]
        for row in calendar.cells
    ]
    most = max((value for row in known for value in row if value is not None), default=0.0)
    bad = [
        (name, long_day_words(monday), cell, address)
        for name, row, address in zip(calendar.names, calendar.cells, addresses, strict=True)
        for monday, cell in zip(calendar.mondays, row, strict=True)
        if cell.count
    ]
    return Figure(
        name="weeks",
        caption="Not clean the first time, vessel by week",
        says="Darker is more. Pale: all clean. Empty: none judged. A dark column is a bad week of "
        "many vessels, a dark row a bad vessel."
        + (f" {left_out} more vessels had fewer or none." if left_out else ""),
        panels=[
            Panel(
                x=Axis(kind="category", categories=tuple(weeks), title="week from Monday"),
                y=Axis(kind="category", categories=calendar.names),
                marks=[
                    Cells(
                        values=known,
                        low=0,
                        high=max(2.0, most),
                        words=[
                            [
                                f"{name}, week of {shown_moment(monday, 'j F')}: "
                                f"{cell.count} of {cell.number} not clean the first time"
                                if cell.number
                                else ""
                                for monday, cell in zip(calendar.mondays, row, strict=True)
                            ]
                            for name, row in zip(calendar.names, calendar.cells, strict=True)
                        ],
                    )
                ],
            )
        ],
        table=Table(
            headings=("Vessel", "Week of", "Not clean the first time", "Judged"),
            rows=[(name, week, str(cell.count), str(cell.number)) for name, week, cell, _ in bad],
            links=[address for _, _, _, address in bad],
        ),
        height_px=130 + 22 * max(3, len(calendar.names)),
    )


def _whole(most: int) -> tuple[tuple[float, str], ...]:
    """Ticks at whole numbers where they are few: nothing happens half a time."""
    return tuple((float(n), str(n)) for n in range(most + 1)) if most <= FEW else ()


def pareto_figure(found: Pareto, *, name: str, caption: str, of: str) -> Figure:
    """What happens most: bars, those that make up most in a colour of their own."""
    shown = list(found.bars[:MOST_ROWS])
    marks: list[Mark] = []
    for words, vital, ink in (
        ("together 80 % of all", True, "blue"),
        ("the rest", False, "sky"),
    ):
        rows = [(n, bar) for n, bar in enumerate(shown) if bar.vital is vital]
        if rows:
            marks.append(
                Bars(
                    at=[float(n) for n, _ in rows],
                    length=[float(bar.count) for _, bar in rows],
                    name=words,
                    ink="blue" if ink == "blue" else "sky",
                    words=[
                        f"{bar.name}: {bar.count}, {percent(bar.share)} of all {of}"
                        for _, bar in rows
                    ],
                    sideways=True,
                )
            )
    return Figure(
        name=name,
        caption=caption,
        says=f"{found.total} in all.",
        panels=[
            Panel(
                x=Axis(title=of, low=0, ticks=_whole(shown[0].count)),
                y=Axis(kind="category", categories=tuple(bar.name for bar in shown)),
                marks=marks,
            )
        ],
        table=Table(
            headings=("What", "Number", "Share", "Cumulative share"),
            rows=[
                (bar.name, str(bar.count), percent(bar.share), percent(bar.running))
                for bar in found.bars
            ],
        ),
        height_px=110 + ROW_PX * max(2, len(shown)),
    )


def ratio_words(value: float) -> str:
    """An odds ratio with two digits that mean something."""
    return f"{digits(value, '.1f')}" if value >= 0.95 else f"{digits(value, '.2f')}"


def effect_name(effect: Effect) -> str:
    """A level short enough to stand beside its bar."""
    if effect.factor == "Content before":
        return f"after {effect.level}"
    if effect.factor.startswith("Lot of "):
        return f"lot {effect.level}"
    return effect.level


def odds_figure(found: Regression) -> Figure:
    """Odds ratios of the levels that stand out most, with their intervals, on a log axis."""
    known = [effect for effect in found.effects if not effect.wide]
    ordered = sorted(known, key=lambda e: (not e.named, -abs(math.log(e.odds_ratio))))
    shown = sorted(ordered[:MOST_EFFECTS], key=lambda e: -e.odds_ratio)
    marks: list[Mark] = [Moment(0.0, "no difference", ink="soft", dash="dash")]
    kinds: tuple[tuple[str, Callable[[Effect], bool], Ink, Shape], ...] = (
        ("not clean more often", lambda e: e.named and e.odds_ratio > 1, "vermilion", "down"),
        ("no clear difference", lambda e: not e.named, "ink", "disc"),
        ("not clean less often", lambda e: e.named and e.odds_ratio < 1, "blue", "up"),
    )
    for words, holds, ink, shape in kinds:
        rows = [(n, effect) for n, effect in enumerate(shown) if holds(effect)]
        if rows:
            marks.append(
                Spread(
                    at=[float(n) for n, _ in rows],
                    low=[math.log10(effect.low) for _, effect in rows],
                    middle=[math.log10(effect.odds_ratio) for _, effect in rows],
                    high=[math.log10(effect.high) for _, effect in rows],
                    name=words,
                    ink=ink,
                    shape=shape,
                    words=[
                        f"{effect.factor}, {effect.level}: odds {ratio_words(effect.odds_ratio)} "
                        "times the average "
                        f"({ratio_words(effect.low)} to {ratio_words(effect.high)})"
                        for _, effect in rows
                    ],
                    sideways=True,
                )
            )
    return Figure(
        name="odds",
        caption="Odds ratios of not being clean the first time",
        says="1 is the average, 2 twice its odds. The bar is the 95 % interval. Named are those "
        "whose 99 % interval leaves out 1."
        + (f" The {len(shown)} furthest from 1." if len(known) > len(shown) else ""),
        panels=[
            Panel(
                x=Axis(
                    title="times the average odds",
                    ticks=tuple((math.log10(r), digits(r, "g")) for r in RATIOS),
                ),
                y=Axis(kind="category", categories=tuple(effect_name(e) for e in shown)),
                marks=marks,
            )
        ],
        table=Table(
            headings=(
                "What",
                "Odds ratio",
                "95 % interval",
                "Not clean",
                "Turnarounds",
                "Stands out",
            ),
            rows=[
                (
                    f"{effect.factor}: {effect.level}",
                    ratio_words(effect.odds_ratio),
                    "too wide"
                    if effect.wide
                    else f"{ratio_words(effect.low)} to {ratio_words(effect.high)}",
                    str(effect.count),
                    str(effect.number),
                    "yes" if effect.named else "no",
                )
                for effect in found.effects
            ],
        ),
        height_px=120 + ROW_PX * max(3, len(shown)),
    )

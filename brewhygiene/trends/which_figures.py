"""Pictures of the comparison of turnarounds, from plain data."""

import math
from collections.abc import Callable, Iterable, Sequence

from brewhygiene.drawing.figure import (
    Axis,
    Bars,
    Cells,
    Dots,
    Figure,
    Ink,
    Level,
    Line,
    Mark,
    Moment,
    Panel,
    Shape,
    Spread,
    Table,
)
from brewhygiene.science.rates.funnel import INNER, OUTER, Funnel, binomial_limits
from brewhygiene.science.rates.odds import Effect, Regression
from brewhygiene.science.rates.pareto import Pareto
from brewhygiene.science.rates.weeks import Calendar
from brewhygiene.trends.grouping import Group

ROW_PX = 30
MOST_ROWS = 25
MOST_EFFECTS = 20
FUNNEL_STEPS = 60
PERCENT = tuple((float(n), f"{n} %") for n in range(0, 101, 10))
# So that a dot at 100 % is not cut in half.
ABOVE_ALL = 101.0
FEW = 12
RATIOS = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20)

AddressOf = Callable[[Group], str]

# How a group lies to the others: words of the key, ink and shape.
STANDINGS: tuple[tuple[str, Callable[[int], bool], Ink, Shape], ...] = (
    ("worse than luck explains", lambda outside: outside < 0, "vermilion", "down"),
    ("luck explains it", lambda outside: outside == 0, "ink", "disc"),
    ("better than luck explains", lambda outside: outside > 0, "blue", "up"),
)


def percent(share: float) -> str:
    """A share in whole percent, but never 0 or 100 for what is neither."""
    whole = round(100 * share)
    if whole == 100 and share < 1:
        return "above 99 %"
    return "below 1 %" if whole == 0 and share > 0 else f"{whole} %"


def percent_range(low: float, high: float) -> str:
    return f"{round(100 * low)} to {round(100 * high)} %"


def luck_words(outside: int) -> str:
    """Whether luck explains how a group lies to the others."""
    return {
        -2: "no: worse",
        -1: "hardly: worse",
        0: "yes",
        1: "hardly: better",
        2: "no: better",
    }[outside]


def _group_words(group: Group) -> str:
    assert group.rate is not None
    rate = group.rate
    return (
        f"{group.name}: {percent(rate.share)} clean the first time, {group.clean} of "
        f"{group.told} (95 % interval {percent_range(rate.low, rate.high)})"
    )


def rates_figure(
    groups: Sequence[Group], *, overall: float, many: str, address: AddressOf
) -> Figure:
    """First-time-clean rates with their intervals, those with most evidence of being worse first.

    ``groups`` are all those with a rate; the first ``MOST_ROWS`` are drawn.
    """
    shown = list(groups[:MOST_ROWS])
    marks: list[Mark] = [Moment(100 * overall, f"all: {percent(overall)}", ink="soft")]
    for words, holds, ink, shape in STANDINGS:
        rows = [(n, group) for n, group in enumerate(shown) if holds(group.outside)]
        if not rows:
            continue
        marks.append(
            Spread(
                at=[float(n) for n, _ in rows],
                low=[100 * group.rate.low for _, group in rows if group.rate],
                middle=[100 * group.rate.share for _, group in rows if group.rate],
                high=[100 * group.rate.high for _, group in rows if group.rate],
                name=words,
                ink=ink,
                shape=shape,
                words=[_group_words(group) for _, group in rows],
                links=[address(group) for _, group in rows],
                sideways=True,
            )
        )
    more = f" The {len(shown)} of {len(groups)} {many} with most evidence of being worse."
    return Figure(
        name="rates",
        caption="Clean the first time",
        says="A dot is the share; the bar shows how far luck may move it. Few turnarounds, wide "
        "bar." + (more if len(groups) > len(shown) else ""),
        panels=[
            Panel(
                x=Axis(
                    title="clean the first time",
                    low=_floor(100 * g.rate.low for g in shown if g.rate),
                    high=ABOVE_ALL,
                    ticks=PERCENT,
                ),
                y=Axis(kind="category", categories=tuple(group.name for group in shown)),
                marks=marks,
            )
        ],
        table=rates_table(shown, address=address),
        height_px=110 + ROW_PX * max(2, len(shown)),
    )


def _floor(percents: Iterable[float]) -> float:
    """A round number of percent below all: an interval needs no axis from 0, as a bar would."""
    return float(max(0, 10 * math.floor((min(percents) - 2) / 10)))


def rates_table(groups: Sequence[Group], *, address: AddressOf) -> Table:
    return Table(
        headings=(
            "Name",
            "Share",
            "95 % interval",
            "Luck explains it",
            "Clean",
            "Told",
            "Not told",
        ),
        rows=[
            (
                group.name,
                percent(group.rate.share) if group.rate else "",
                percent_range(group.rate.low, group.rate.high) if group.rate else "",
                luck_words(group.outside) if group.place else "",
                str(group.clean),
                str(group.told),
                str(group.not_told),
            )
            for group in groups
        ],
        links=[address(group) for group in groups],
    )


def funnel_figure(
    found: Funnel, groups: Sequence[Group], *, many: str, address: AddressOf
) -> Figure:
    """Shares against how many there are, with the limits that luck seldom passes."""
    placed = [group for group in groups if group.place is not None and group.rate is not None]
    most = max(group.told for group in placed)
    steps = sorted(
        {max(1, round(1 + (most * 1.05 - 1) * n / FUNNEL_STEPS)) for n in range(FUNNEL_STEPS + 1)}
    )
    phi = found.phi if found.stretched else 1.0
    marks: list[Mark] = []
    for within, dash in ((OUTER, "dot"), (INNER, "dash")):
        limits = [
            binomial_limits(number=n, target=found.target, within=within, phi=phi) for n in steps
        ]
        words = f"luck alone keeps {100 * within:g} % of {many} within"
        for name, ends in (
            (words, [100 * limit.low for limit in limits]),
            ("", [100 * limit.high for limit in limits]),
        ):
            marks.append(
                Line(
                    x=[float(n) for n in steps],
                    y=ends,
                    name=name,
                    ink="soft",
                    dash="dot" if dash == "dot" else "dash",
                    width=1.25,
                )
            )
    marks.append(Level(100 * found.target, f"all: {percent(found.target)}", dash="solid"))
    for words, holds, ink, shape in STANDINGS:
        rows = [group for group in placed if holds(group.outside)]
        if rows:
            marks.append(
                Dots(
                    x=[float(group.told) for group in rows],
                    y=[100 * group.rate.share for group in rows if group.rate],
                    name=words,
                    ink=ink,
                    shape=shape,
                    size=9,
                    words=[_group_words(group) for group in rows],
                    links=[address(group) for group in rows],
                )
            )
    floor = _floor([100 * found.target - 15, *(100 * g.rate.share for g in placed if g.rate)])
    return Figure(
        name="funnel",
        caption="Is it luck?",
        says="Left are those with few turnarounds, which luck moves far; right those with many. "
        "Inside the funnel luck explains the difference."
        + (
            " All differ from all by more than luck, so the funnel is drawn "
            f"{math.sqrt(found.phi):.1f} times as wide."
            if found.stretched
            else ""
        ),
        panels=[
            Panel(
                x=Axis(title="turnarounds told", low=0),
                y=Axis(title="clean the first time", low=floor, high=ABOVE_ALL, ticks=PERCENT),
                marks=marks,
            )
        ],
        table=rates_table(placed, address=address),
        height_px=400,
    )


def weeks_figure(calendar: Calendar, *, addresses: Sequence[str], left_out: int) -> Figure:
    """Vessel by week: how many turnarounds were not clean the first time."""
    weeks = [f"{monday.day} {monday:%b}" for monday in calendar.mondays]
    known = [
        [None if cell.share is None else float(cell.count) for cell in row]
        for row in calendar.cells
    ]
    most = max((value for row in known for value in row if value is not None), default=0.0)
    bad = [
        (name, f"{monday.day} {monday:%B %Y}", cell, address)
        for name, row, address in zip(calendar.names, calendar.cells, addresses, strict=True)
        for monday, cell in zip(calendar.mondays, row, strict=True)
        if cell.count
    ]
    return Figure(
        name="weeks",
        caption="Not clean the first time, vessel by week",
        says="The darker, the more. Pale: all clean. Empty: nothing told. A dark column is a week "
        "in which many vessels suffered, a dark row one vessel."
        + (f" {left_out} more vessels had none or fewer." if left_out else ""),
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
                                f"{name}, week of {monday.day} {monday:%B}: "
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
            headings=("Vessel", "Week of", "Not clean the first time", "Told"),
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
        ("together four fifths of all", True, "blue"),
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
            headings=("What", "How many", "Share", "With those above"),
            rows=[
                (bar.name, str(bar.count), percent(bar.share), percent(bar.running))
                for bar in found.bars
            ],
        ),
        height_px=110 + ROW_PX * max(2, len(shown)),
    )


def ratio_words(value: float) -> str:
    """An odds ratio with two digits that mean something."""
    return f"{value:.1f}" if value >= 0.95 else f"{value:.2f}"


def effect_name(effect: Effect) -> str:
    """A level short enough to stand beside its bar."""
    if effect.factor == "Content before":
        return f"after {effect.level}"
    if effect.factor.startswith("Lot of "):
        return f"lot {effect.level}"
    return effect.level


def odds_figure(found: Regression) -> Figure:
    """Odds ratios of the levels that stand out most, with their intervals, on a log axis."""
    told = [effect for effect in found.effects if not effect.wide]
    ordered = sorted(told, key=lambda e: (not e.named, -abs(math.log(e.odds_ratio))))
    shown = sorted(ordered[:MOST_EFFECTS], key=lambda e: -e.odds_ratio)
    marks: list[Mark] = [Moment(0.0, "no difference", ink="soft", dash="dash")]
    kinds: tuple[tuple[str, Callable[[Effect], bool], Ink, Shape], ...] = (
        ("not clean more often", lambda e: e.named and e.odds_ratio > 1, "vermilion", "down"),
        ("luck explains it", lambda e: not e.named, "ink", "disc"),
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
        caption="Odds of not being clean the first time, all else alike",
        says="1 is the average of its kind, 2 twice its odds. The bar is the 95 % interval; those "
        "whose 99 % interval leaves out 1 are named."
        + (f" The {len(shown)} furthest from 1." if len(told) > len(shown) else ""),
        panels=[
            Panel(
                x=Axis(
                    title="times the average odds",
                    ticks=tuple((math.log10(r), f"{r:g}") for r in RATIOS),
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
                    "too wide to say"
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

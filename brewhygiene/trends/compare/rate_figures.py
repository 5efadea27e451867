"""Pictures of how often each was clean the first time, and whether that is luck."""

import math
from collections.abc import Callable, Iterable, Sequence

from brewhygiene.drawing.figure import (
    Axis,
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
from brewhygiene.trends.compare.grouping import Group

ROW_PX = 30
MOST_ROWS = 25
FUNNEL_STEPS = 60
PERCENT = tuple((float(n), f"{n} %") for n in range(0, 101, 10))
# So that a dot at 100 % is not cut in half.
ABOVE_ALL = 101.0

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

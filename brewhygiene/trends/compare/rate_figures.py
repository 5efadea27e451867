"""Pictures of how often each was clean the first time, and how it compares with the rest."""

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
from brewhygiene.quantities.style import digits
from brewhygiene.quantities.words import percent, percent_range
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
    ("worse than the rest", lambda outside: outside < 0, "vermilion", "down"),
    ("within the limits", lambda outside: outside == 0, "ink", "disc"),
    ("better than the rest", lambda outside: outside > 0, "blue", "up"),
)


def limits_words(outside: int) -> str:
    """How a group lies to the control limits of the funnel."""
    return {
        -2: f"worse, outside {digits(99.8, 'g')} %",
        -1: "worse, outside 95 %",
        0: "within",
        1: "better, outside 95 %",
        2: f"better, outside {digits(99.8, 'g')} %",
    }[outside]


def _group_words(group: Group) -> str:
    assert group.rate is not None
    rate = group.rate
    return (
        f"{group.name}: {percent(rate.share)} clean the first time, {group.clean} of "
        f"{group.judged} (95 % interval {percent_range(rate.low, rate.high)})"
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
        says="A dot is the share, the bar its 95 % interval."
        + (more if len(groups) > len(shown) else ""),
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
            "Control limits",
            "Clean",
            "Judged",
            "Not judged",
        ),
        rows=[
            (
                group.name,
                percent(group.rate.share) if group.rate else "",
                percent_range(group.rate.low, group.rate.high) if group.rate else "",
                limits_words(group.outside) if group.place else "",
                str(group.clean),
                str(group.judged),
                str(group.not_judged),
            )
            for group in groups
        ],
        links=[address(group) for group in groups],
    )


def funnel_figure(found: Funnel, groups: Sequence[Group], *, address: AddressOf) -> Figure:
    """Shares against how many turnarounds there are, with the control limits for that number."""
    placed = [group for group in groups if group.place is not None and group.rate is not None]
    most = max(group.judged for group in placed)
    steps = sorted(
        {max(1, round(1 + (most * 1.05 - 1) * n / FUNNEL_STEPS)) for n in range(FUNNEL_STEPS + 1)}
    )
    phi = found.phi if found.stretched else 1.0
    marks: list[Mark] = []
    for within, dash in ((OUTER, "dot"), (INNER, "dash")):
        limits = [
            binomial_limits(number=n, target=found.target, within=within, phi=phi) for n in steps
        ]
        words = f"{digits(100 * within, 'g')} % limits"
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
                    x=[float(group.judged) for group in rows],
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
        caption="Funnel plot",
        says="Few turnarounds stand left, many right. Inside the limits a difference can be chance."
        + (
            " All differ more than chance allows, so the limits are "
            f"{digits(math.sqrt(found.phi), '.1f')} times as wide (overdispersion)."
            if found.stretched
            else ""
        ),
        panels=[
            Panel(
                x=Axis(title="turnarounds judged", low=0),
                y=Axis(title="clean the first time", low=floor, high=ABOVE_ALL, ticks=PERCENT),
                marks=marks,
            )
        ],
        table=rates_table(placed, address=address),
        height_px=400,
    )

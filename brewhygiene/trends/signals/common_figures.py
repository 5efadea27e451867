"""Shared causes as figures: weeks in a row, and the levels of each factor."""

import dataclasses

from brewhygiene.drawing.figure import Axis, Figure, Level, Moment, Panel, Spread, Table
from brewhygiene.quantities.style import digits
from brewhygiene.science.control.shapes import Factor, LevelRise
from brewhygiene.trends.signals.suspects import FACTOR_WORDS, Compared, signed

SHOWN: tuple[Factor, ...] = (
    "meter",
    "test_lot",
    "agent_lot",
    "regime",
    "person",
    "vessel",
    "point",
)
TITLES: dict[Factor, str] = {
    "meter": "By meter",
    "test_lot": "By lot of ATP tests",
    "agent_lot": "By agent lot",
    "regime": "By regime",
    "person": "By person who took the sample",
    "vessel": "By vessel",
    "point": "By point",
}
MOST_LEVELS = 12


@dataclasses.dataclass(frozen=True)
class FactorTable:
    """One factor's levels, the highest first, with its picture where it has more than one."""

    factor: Factor
    title: str
    levels: list[LevelRise]
    left_out: int
    figure: Figure | None


def weeks_figure(compared: Compared) -> Figure | None:
    """The mean of all points week by week, with its 95 % interval."""
    if compared.shapes is None:
        return None
    began: dict[str, float] = {}
    for reading in compared.readings:
        began.setdefault(reading.tags["week"][0], reading.order)
    weeks = sorted(
        (one for one in compared.shapes.levels if one.factor == "week"),
        key=lambda one: began[one.level],
    )
    return _spread(weeks, "week", "All points, week by week", 260) if len(weeks) > 1 else None


def factor_tables(compared: Compared) -> list[FactorTable]:
    """The levels of each factor that the readings have."""
    if compared.shapes is None:
        return []
    found = []
    for factor in SHOWN:
        levels = [one for one in compared.shapes.levels if one.factor == factor]
        if levels:
            shown = levels[:MOST_LEVELS]
            figure = None
            if len(shown) > 1:
                figure = _spread(shown, factor, TITLES[factor], 110 + 26 * len(shown), lying=True)
            found.append(
                FactorTable(factor, TITLES[factor], shown, len(levels) - len(shown), figure)
            )
    return found


def _spread(
    levels: list[LevelRise], factor: Factor, title: str, height_px: int, *, lying: bool = False
) -> Figure:
    names = tuple(one.level for one in levels)
    marks = [
        Spread(
            at=list(names),
            low=[one.mean - 1.96 * one.error for one in levels],
            middle=[one.mean for one in levels],
            high=[one.mean + 1.96 * one.error for one in levels],
            name="mean with its 95 % interval",
            words=[
                f"{one.level}: {signed(one.mean)} sigmas, {one.readings} readings" for one in levels
            ],
            sideways=lying,
        )
    ]
    number = Axis(title="sigmas from each chart's centre")
    category = Axis(kind="category", categories=names)
    x, y = (number, category) if lying else (category, number)
    highest = max(levels, key=lambda one: one.mean)
    return Figure(
        name=f"common-{factor.replace('_', '-')}",
        caption=title,
        says=(
            f"Highest: {'the week from ' if factor == 'week' else ''}{highest.level}, "
            f"{signed(highest.mean)} sigmas, mean of {highest.readings} readings. "
            "0 is the centre of each point's chart."
        ),
        panels=[Panel(x=x, y=y, marks=[*marks, Moment(0.0) if lying else Level(0.0)])],
        table=Table(
            headings=(
                FACTOR_WORDS[factor],
                "Readings",
                "Mean, sigmas",
                "± (95 %)",
                "Mean of the others",
                "High (1 in 100)",
            ),
            rows=[
                (
                    one.level,
                    str(one.readings),
                    signed(one.mean),
                    f"{digits(1.96 * one.error, '.1f')}",
                    "" if one.beside is None else signed(one.beside),
                    "yes" if one.flagged else "no",
                )
                for one in levels
            ],
        ),
        height_px=height_px,
    )

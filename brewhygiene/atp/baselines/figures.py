"""The figures of a baseline's study."""

import math

from django.utils import timezone

from brewhygiene.atp.baselines.study import Study
from brewhygiene.atp.baselines.words import SHORT, TITLES, rlu_words
from brewhygiene.atp.models.readings import Result
from brewhygiene.drawing.figure import (
    Axis,
    Bars,
    Dots,
    Figure,
    Ink,
    Level,
    Line,
    Moment,
    Panel,
    Spread,
    Table,
)
from brewhygiene.quantities.style import digits, shown_moment
from brewhygiene.science.control.individuals import individuals
from brewhygiene.science.errors import TooFewReadings
from brewhygiene.science.limits.distribution import Bin, Distribution
from brewhygiene.science.limits.groups.pooling import Pooling
from brewhygiene.science.limits.sample import log_rlu, rlu_of_log
from brewhygiene.science.limits.side_by_side import Method

SHOWN_RLU = tuple(
    step * 10**power for power in range(8) for step in (1, 2, 5) if step * 10**power < 10**7
)
ROW_PX = 32
AROUND_PX = 110


def rlu_axis(highest_rlu: float, *, title: str = "RLU") -> Axis:
    """An axis of log10(RLU+1) from 0, with the RLU written at it."""
    top = log_rlu(highest_rlu) * 1.04 + 0.02
    most = 8
    shown = [rlu for rlu in SHOWN_RLU if log_rlu(rlu) <= top]
    if len(shown) > most:
        shown = [rlu for rlu in shown if str(rlu)[0] == "1"]
    ticks = ((0.0, "0"), *((log_rlu(rlu), digits(rlu, ",")) for rlu in shown))
    return Axis(title=title, low=0, high=top, ticks=ticks)


LIMIT_INKS: tuple[tuple[str, Ink], ...] = (("alert", "purple"), ("action", "vermilion"))


def _limits_shown(study: Study, *, logs: bool) -> list[Moment]:
    """The recommended limits as marks on an axis of RLU or of logs."""
    row = study.recommended
    if row is None or row.method.alert is None or row.method.action is None:
        return []
    return [
        Moment(
            log_rlu(level.rlu) if logs else float(level.rlu),
            f"{words} {digits(level.rlu, ',')}",
            ink=ink,
        )
        for (words, ink), level in zip(
            LIMIT_INKS, (row.method.alert, row.method.action), strict=True
        )
    ]


def _bin_words(one: Bin, *, logs: bool) -> str:
    if logs:
        low, high = rlu_of_log(one.low), rlu_of_log(one.high)
        return f"{rlu_words(low)} to {rlu_words(high)} RLU"
    low, last = round(one.low), round(one.high) - 1
    return f"{low} RLU" if last <= low else f"{low} to {last} RLU"


def _histogram(study: Study, bins: tuple[Bin, ...], *, logs: bool) -> Figure:
    found = study.distribution
    assert found is not None
    width = bins[0].high - bins[0].low
    # A bin of whole RLU from 3 to below 5 contains 3 and 4: its middle on the axis is 3.5.
    shift = 0 if logs else -0.5
    words = [f"{_bin_words(one, logs=logs)}: {one.count}" for one in bins]
    x = (
        rlu_axis(found.highest_rlu, title="RLU, spaced as log10(RLU+1)")
        if logs
        else Axis(title="RLU", low=-width / 2 - 0.5)
    )
    return Figure(
        name="histogram-logs" if logs else "histogram",
        caption="Readings on a log scale" if logs else "Readings",
        says=(
            f"{found.readings} readings, {found.zeros} of them 0 RLU. Half are at most "
            f"{rlu_words(found.median_rlu)} RLU, and the highest is "
            f"{digits(found.highest_rlu, ',')} RLU."
        ),
        panels=[
            Panel(
                x=x,
                y=Axis(title="readings", low=0),
                marks=[
                    Bars(
                        at=[(one.low + one.high) / 2 + shift for one in bins],
                        length=[one.count for one in bins],
                        width=width * 0.92,
                        words=words,
                    ),
                    *_limits_shown(study, logs=logs),
                ],
            )
        ],
        table=Table(
            headings=("RLU", "readings"),
            rows=[(_bin_words(one, logs=logs), str(one.count)) for one in bins],
        ),
        height_px=280,
    )


def histograms(study: Study) -> list[Figure]:
    """Two histograms, of RLU and of log10(RLU+1), with the recommended limits."""
    found = study.distribution
    if found is None:
        return []
    return [
        _histogram(study, found.raw_bins, logs=False),
        _histogram(study, found.log_bins, logs=True),
    ]


def _fitted_line(found: Distribution, *, logs: bool) -> tuple[Line, float]:
    """The line of a normal distribution in a normal plot, and its highest value."""
    values = [log_rlu(rlu) if logs else float(rlu) for rlu in found.ordered_rlu]
    mean = math.fsum(values) / len(values)
    sd = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / (len(values) - 1))
    ends = (found.scores[0], found.scores[-1])
    name = "a normal distribution of logs" if logs else "a normal distribution"
    line = Line(x=ends, y=[mean + sd * z for z in ends], name=name, ink="soft", dash="dash")
    return line, mean + sd * ends[1]


def normal_plot(study: Study) -> Figure | None:
    """Normal probability plots of RLU and of logs: a straight line means normal."""
    found = study.distribution
    if found is None:
        return None
    panels = []
    for logs, straight in ((False, found.raw), (True, found.logs)):
        line, top = _fitted_line(found, logs=logs)
        y = rlu_axis(max(found.highest_rlu, rlu_of_log(top)), title="") if logs else Axis()
        panels.append(
            Panel(
                x=Axis(title="normal score, SD") if logs else Axis(),
                y=y,
                marks=[
                    line,
                    Dots(
                        x=found.scores,
                        y=[log_rlu(rlu) if logs else rlu for rlu in found.ordered_rlu],
                        ink="blue",
                        size=6,
                        words=[f"{digits(rlu, ',')} RLU" for rlu in found.ordered_rlu],
                    ),
                ],
                title=(
                    f"{'RLU, log scale' if logs else 'RLU'} (correlation "
                    f"{digits(straight.correlation, '.3f')})"
                ),
            )
        )
    nearer = "logs" if found.logs.correlation >= found.raw.correlation else "RLU"
    return Figure(
        name="normal-plot",
        caption="Normal probability plot",
        says=f"Readings on the line are normal. The {nearer} fit it better.",
        panels=panels,
        table=Table(
            headings=("normal score, SD", "RLU"),
            rows=[
                (digits(score, ".2f"), digits(rlu, ","))
                for score, rlu in zip(found.scores, found.ordered_rlu, strict=True)
            ],
        ),
        height_px=380,
    )


def _level_cells(method: Method) -> tuple[str, str]:
    cells = [
        f"{digits(level.rlu, ',')} ({rlu_words(level.low_rlu)} to {rlu_words(level.high_rlu)})"
        if level
        else "—"
        for level in (method.alert, method.action)
    ]
    return cells[0], cells[1]


def methods_figure(study: Study) -> Figure | None:
    """Alert level and action limit by each method, with bootstrap intervals."""
    methods = [row.method for row in study.rows if row.method.alert or row.method.action]
    if not methods:
        return None
    top = max(level.high_rlu for m in methods for level in (m.alert, m.action) if level is not None)
    top = max(top, *(level.rlu for m in methods for level in (m.alert, m.action) if level))
    spreads = []
    for name, ink, shape, nudge in (
        ("alert level", "purple", "diamond", 0.14),
        ("action limit", "vermilion", "square", -0.14),
    ):
        levels = [(m.alert if name == "alert level" else m.action) for m in methods]
        spreads.append(
            Spread(
                at=[place + nudge for place in range(len(methods))],
                low=[log_rlu(max(0.0, level.low_rlu)) if level else None for level in levels],
                middle=[log_rlu(level.rlu) if level else None for level in levels],
                high=[log_rlu(level.high_rlu) if level else None for level in levels],
                name=name,
                ink=ink,  # type: ignore[arg-type]
                shape=shape,  # type: ignore[arg-type]
                words=[
                    f"{TITLES[m.code]}, {name} {digits(level.rlu, ',')} RLU" if level else ""
                    for m, level in zip(methods, levels, strict=True)
                ],
                sideways=True,
            )
        )
    return Figure(
        name="methods",
        caption="Limits by method",
        says="Bars are 95 % bootstrap intervals.",
        panels=[
            Panel(
                x=rlu_axis(top, title="RLU, log scale"),
                y=Axis(kind="category", categories=tuple(SHORT[m.code] for m in methods)),
                marks=spreads,
            )
        ],
        table=Table(
            headings=("method", "alert level (95 % interval), RLU", "action limit (95 %), RLU"),
            rows=[(TITLES[m.code], *_level_cells(m)) for m in methods],
        ),
        height_px=AROUND_PX + ROW_PX * len(methods),
    )


def pooling_figure(pooling: Pooling, *, one: str = "point") -> Figure | None:
    """The mean of each point's (or vessel's) logs with its interval; none for one alone."""
    if pooling.answer == "one":
        return None
    groups = pooling.groups
    top = max(group.high_rlu or group.middle_rlu for group in groups)
    says = f"The mean of each {one}'s logs with its 95 % interval. "
    if pooling.answer == "should_not":
        says += f"{one.capitalize()}s that lie apart should not share limits."
    else:
        says += f"Intervals that overlap may belong to {one}s that are alike."
    return Figure(
        name="pooling" if one == "point" else f"pooling-{one}",
        caption=f"Readings by {one}",
        says=says,
        panels=[
            Panel(
                x=rlu_axis(top, title="RLU, log scale"),
                y=Axis(kind="category", categories=tuple(group.name for group in groups)),
                marks=[
                    Spread(
                        at=list(range(len(groups))),
                        low=[
                            None if group.low_rlu is None else log_rlu(group.low_rlu)
                            for group in groups
                        ],
                        middle=[log_rlu(max(0.0, group.middle_rlu)) for group in groups],
                        high=[
                            None if group.high_rlu is None else log_rlu(group.high_rlu)
                            for group in groups
                        ],
                        ink="blue",
                        words=[
                            f"{group.name}: {rlu_words(group.middle_rlu)} RLU, "
                            f"{group.readings} readings"
                            for group in groups
                        ],
                        sideways=True,
                    )
                ],
            )
        ],
        table=Table(
            headings=(one, "readings", "middle, RLU", "95 % interval, RLU", "highest, RLU"),
            rows=[
                (
                    group.name,
                    str(group.readings),
                    rlu_words(group.middle_rlu),
                    "—"
                    if group.low_rlu is None or group.high_rlu is None
                    else f"{rlu_words(group.low_rlu)} to {rlu_words(group.high_rlu)}",
                    f"{digits(group.top_rlu, ',')}",
                )
                for group in groups
            ],
        ),
        height_px=AROUND_PX + ROW_PX * len(groups),
    )


def drift_figure(counted: list[Result]) -> Figure | None:
    """The readings over time, with the limits of an individuals chart on logs."""
    values = [log_rlu(result.rlu) for result in counted]
    try:
        chart = individuals(values)
    except TooFewReadings:
        return None
    upper = max(0.0, chart.upper)
    outside = sum(value > upper for value in values)
    many = {0: "No reading lies", 1: "1 reading lies"}.get(outside, f"{outside} readings lie")
    return Figure(
        name="drift",
        caption="Readings over time",
        says=f"{many} above the chart's upper limit of {rlu_words(rlu_of_log(upper))} RLU "
        "(centre + 3 sigma from the moving ranges of log10(RLU+1)).",
        panels=[
            Panel(
                x=Axis(kind="time"),
                y=rlu_axis(rlu_of_log(max(*values, upper)), title="RLU, log scale"),
                marks=[
                    Level(chart.centre, "centre", ink="soft", dash="dot"),
                    Level(upper, "centre + 3 sigma", ink="vermilion"),
                    Dots(
                        x=[result.taken_at for result in counted],
                        y=values,
                        ink="blue",
                        size=6,
                        words=[
                            f"{result.point}: {digits(result.rlu, ',')} RLU" for result in counted
                        ],
                    ),
                ],
            )
        ],
        table=Table(
            headings=("taken", "point", "RLU"),
            rows=[
                (
                    f"{shown_moment(timezone.localtime(result.taken_at), 'd M Y, H:i')}",
                    str(result.point),
                    f"{digits(result.rlu, ',')}",
                )
                for result in counted
            ],
        ),
        height_px=320,
    )

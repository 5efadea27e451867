"""The picture of a meter's control checks."""

import math
from collections.abc import Sequence
from datetime import datetime

from django.urls import reverse
from django.utils import timezone

from brewhygiene.atp.meters.drift import CheckCharts, CheckRow, SideChart
from brewhygiene.atp.models.meters import Meter
from brewhygiene.drawing.figure import (
    Axis,
    Band,
    Dots,
    Figure,
    Level,
    Line,
    Mark,
    Moment,
    Panel,
    Table,
)
from brewhygiene.quantities.style import digits, shown_moment
from brewhygiene.trends.words import day_words

LEAST_DRAWN = 2
MOST_MOMENTS = 8


def _log(rlu: float) -> float:
    return math.log10(rlu + 1)


def _ticks(low: float, high: float) -> tuple[tuple[float, str], ...]:
    """RLU to write beside an axis of log10(RLU + 1) from ``low`` to ``high``."""
    steps = (1, 1.5, 2, 3, 5, 7) if high - low < 1.2 else (1, 3)
    every = [0, *(round(step * 10**k) for k in range(8) for step in steps)]
    return tuple(
        (_log(rlu), digits(rlu, ",")) for rlu in sorted(set(every)) if low <= _log(rlu) <= high
    )


def _panel(
    chart: SideChart,
    checks: Sequence[CheckRow],
    *,
    title: str,
    ranges: Sequence[tuple[int, str]],
    links: Sequence[str],
    moments: Sequence[Moment],
    height: float,
) -> Panel:
    days: list[datetime] = [check.checked_at for check in checks]
    rlu = [c.positive_rlu if chart.side == "positive" else c.blank_rlu for c in checks]
    marks: list[Mark] = []
    shown = [_log(value) for value in (*rlu, *(bound for bound, _ in ranges))]
    if chart.phase is not None:
        limits = chart.phase.limits
        low, high = max(limits.lower, 0.0), limits.upper
        shown += [low, high]
        marks.append(
            Band(
                x=[days[0], days[-1]],
                low=[low, low],
                high=[high, high],
                name="control limits (3 sigmas)",
                ink="sky",
            )
        )
        averages = chart.phase.ewma.average
        if averages:
            marks.append(
                Line(
                    x=days[chart.phase.judged_from :],
                    y=[limits.centre + z * limits.sigma for z in averages],
                    name="moving average (EWMA)",
                    ink="blue",
                    width=2.25,
                )
            )
    marks += [Level(y=_log(bound), words=words, ink="vermilion") for bound, words in ranges]
    for passed, name, ink, shape in (
        (True, "check passed", "ink", "disc"),
        (False, "check failed", "vermilion", "diamond"),
    ):
        places = [k for k, check in enumerate(checks) if check.passed is passed]
        if places:
            marks.append(
                Dots(
                    x=[days[k] for k in places],
                    y=[_log(rlu[k]) for k in places],
                    name=name,
                    ink=ink,  # type: ignore[arg-type]
                    shape=shape,  # type: ignore[arg-type]
                    words=[_words(checks[k], rlu[k]) for k in places],
                    links=[links[k] for k in places],
                )
            )
    spare = 0.08 * (max(shown) - min(shown) or 1)
    bottom, top = min(shown) - spare, max(shown) + spare
    return Panel(
        x=Axis(kind="time"),
        y=Axis(title="RLU", low=bottom, high=top, ticks=_ticks(bottom, top)),
        marks=[*marks, *moments],
        title=title,
        height=height,
    )


def _day(moment: datetime) -> str:
    return f"{day_words(moment)}, {shown_moment(timezone.localtime(moment), 'H:i')}"


def _words(check: CheckRow, rlu: int) -> str:
    note = f", {check.note}" if check.note else ""
    return f"{_day(check.checked_at)}: {rlu} RLU{'' if check.passed else ', check failed'}{note}"


def check_figure(meter: Meter, charts: CheckCharts) -> Figure | None:
    """Positive and blank readings over time, each on axes of its own; ``None`` below 2 checks."""
    checks = charts.checks
    if len(checks) < LEAST_DRAWN:
        return None
    links = [reverse("atp:checked", args=[meter.pk, check.pk]) for check in checks]
    noted = [check for check in checks if check.note][-MOST_MOMENTS:]
    moments = [Moment(x=check.checked_at, words=check.note) for check in noted]
    drifts = charts.drifts
    return Figure(
        name="control-checks",
        caption=f"Control checks of {meter.name}",
        says=" ".join(f"{drift.words}." for drift in drifts)
        if drifts
        else f"{len(checks)} checks. Neither control drifts now."
        if charts.positive.phase or charts.blank.phase
        else f"{len(checks)} checks are too few to detect a drift.",
        panels=[
            _panel(
                charts.positive,
                checks,
                title="Positive control",
                ranges=(
                    (meter.positive_min_rlu, f"minimum {meter.positive_min_rlu}"),
                    (meter.positive_max_rlu, f"maximum {meter.positive_max_rlu}"),
                ),
                links=links,
                moments=moments,
                height=1.5,
            ),
            _panel(
                charts.blank,
                checks,
                title="Blank",
                ranges=((meter.blank_max_rlu, f"maximum {meter.blank_max_rlu}"),),
                links=links,
                moments=[],
                height=1,
            ),
        ],
        table=Table(
            headings=("Checked", "Blank, RLU", "Positive, RLU", "Outcome", "Note"),
            rows=[
                (
                    _day(check.checked_at),
                    str(check.blank_rlu),
                    str(check.positive_rlu),
                    "passed" if check.passed else "failed",
                    check.note,
                )
                for check in checks
            ],
            links=links,
        ),
        height_px=520,
    )

"""A logger file as a picture and as a table: plain data, drawn by ``logger.js`` and the page."""

import dataclasses
import math
from collections.abc import Mapping, Sequence
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.turnarounds.logger.placing import Attempt, Phase
from brewhygiene.turnarounds.logger.words import (
    LoggerClock,
    in_order,
    in_site_unit,
    logged_range,
    logged_title,
    logged_unit,
)

ROWS = 60
# Minutes between the rows of the table: the shortest of these that needs no more rows.
PACES_MIN = (0.5, 1, 2, 5, 10, 15, 30, 60, 120, 240, 480, 1440)


def stretch_of(attempt: Attempt, measured: Mapping[str, Any] | None) -> tuple[float, float] | None:
    """Where a step is shaded: its timed minutes, else what it was placed in."""
    if attempt.timed is not None:
        return attempt.timed
    if measured is not None and "from_s" in measured:
        return measured["from_s"], measured["until_s"]
    return None


def chart_of(
    evaluation: Mapping[str, Any],
    *,
    attempts: Sequence[Attempt],
    phases: Sequence[Phase],
    clock: LoggerClock,
    brewery: Brewery,
) -> dict[str, Any]:
    """The picture: a panel for each quantity, the steps, and their windows. In the site's units.

    ``start`` is the moment of second 0 by the brewery's clock, without its zone, or ``None``.
    """
    every = {kept["record"]: kept for kept in evaluation["steps"]}
    steps = []
    for attempt in attempts:
        stretch = stretch_of(attempt, every.get(attempt.record.pk))
        if stretch is not None:
            steps.append(_step(attempt, stretch, evaluation["plots"], brewery))
    start = clock.starts_at
    return {
        "start": start.replace(tzinfo=None).isoformat() if start is not None else None,
        "duration_s": evaluation["duration_s"],
        "panels": [
            _panel(quantity, plot, brewery)
            for quantity, plot in in_order(evaluation["plots"]).items()
        ],
        "steps": steps,
        "phases": [
            {"label": f"{each.number} {each.kind}", "from": each.from_s, "until": each.until_s}
            for each in phases
        ],
    }


def _panel(quantity: str, plot: Mapping[str, Any], brewery: Brewery) -> dict[str, Any]:
    values: list[float | None] = []
    seconds: list[float] = []
    gaps = set(plot["gaps"])
    for place, (second, value) in enumerate(zip(plot["s"], plot["v"], strict=True)):
        if place in gaps:
            # Nothing is drawn over a gap.
            seconds.append(second)
            values.append(None)
        seconds.append(second)
        values.append(round(in_site_unit(value, quantity=quantity, brewery=brewery), 3))
    return {
        "quantity": quantity,
        "title": logged_title(quantity),
        "unit": logged_unit(quantity, brewery),
        "seconds": seconds,
        "values": values,
    }


def _step(
    attempt: Attempt, stretch: tuple[float, float], plotted: Mapping[str, Any], brewery: Brewery
) -> dict[str, Any]:
    def shown(value: float | None, quantity: str) -> float | None:
        if value is None:
            return None
        return in_site_unit(value, quantity=quantity, brewery=brewery)

    return {
        "label": f"{attempt.step.order}. {attempt.step.get_kind_display()}",
        "from": stretch[0],
        "until": stretch[1],
        "windows": {
            window.quantity: [
                shown(window.minimum, window.quantity),
                shown(window.maximum, window.quantity),
            ]
            for window in attempt.step.windows.all()
            if window.quantity in plotted
        },
    }


@dataclasses.dataclass(frozen=True)
class Table:
    """The picture in numbers: least and greatest of each quantity, some minutes at a time."""

    pace_min: float
    titles: Sequence[str]
    rows: Sequence[tuple[str, Sequence[str]]]


def table_of(evaluation: Mapping[str, Any], *, clock: LoggerClock, brewery: Brewery) -> Table:
    """At most ``ROWS`` rows, or a few more for a file of months."""
    minutes = evaluation["duration_s"] / 60
    pace = next((pace for pace in PACES_MIN if minutes / pace <= ROWS), PACES_MIN[-1])
    plots = in_order(evaluation["plots"])
    columns = {quantity: _extremes(plot, pace * 60) for quantity, plot in plots.items()}
    rows = []
    for place in range(max(1, math.ceil(minutes / pace))):
        cells = []
        for quantity, column in columns.items():
            if place not in column:
                cells.append("none")
                continue
            cells.append(logged_range(*column[place], quantity=quantity, brewery=brewery))
        rows.append((clock.words(place * pace * 60), cells))
    return Table(pace, [logged_title(quantity) for quantity in plots], rows)


def _extremes(plot: Mapping[str, Any], pace_s: float) -> dict[int, tuple[float, float]]:
    found: dict[int, tuple[float, float]] = {}
    for second, value in zip(plot["s"], plot["v"], strict=True):
        place = int(second // pace_s)
        low, high = found.get(place, (value, value))
        found[place] = min(low, value), max(high, value)
    return found

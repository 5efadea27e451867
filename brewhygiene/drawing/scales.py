"""From an axis and what stands on it to its ends and its ticks."""

import dataclasses
import math
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta, tzinfo

from brewhygiene.drawing.figure import (
    Axis,
    Band,
    Bars,
    Cells,
    Dots,
    Level,
    Line,
    Mark,
    Moment,
    Panel,
    Spread,
    Where,
)
from brewhygiene.quantities.style import shown_moment, signed

ROOM = 0.05  # of the range, left free beyond the outermost value
DAY_S = 86_400
# Steps between ticks of time: minutes and hours in seconds, then days, then months.
CLOCK_STEPS_S = (60, 300, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200)
DAY_STEPS = (1, 2, 7, 14)
MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

Tick = tuple[float, str]


@dataclasses.dataclass(frozen=True)
class Scale:
    """The ends of an axis as numbers (seconds of the epoch on a time axis) and its ticks."""

    axis: Axis
    low: float
    high: float

    def share(self, value: float) -> float:
        """How far along the axis a value lies: 0 at its low end, 1 at its high one."""
        return (value - self.low) / (self.high - self.low)

    def ticks(self, most: int, zone: tzinfo) -> list[Tick]:
        """At most ``most`` ticks within the ends, each with its words."""
        most = max(2, most)
        if self.axis.ticks:
            inside = [tick for tick in self.axis.ticks if self.low <= tick[0] <= self.high]
            return thinned(inside, most)
        if self.axis.kind == "category":
            return thinned([(float(n), name) for n, name in enumerate(self.axis.categories)], most)
        if self.axis.kind == "time":
            return time_ticks(self.low, self.high, most, zone)
        return number_ticks(self.low, self.high, most)


def numbers(values: Sequence[Where] | Sequence[float | None], axis: Axis) -> list[float | None]:
    """Places as numbers: seconds of the epoch, the place of a category, or what they are.

    Raises ``ValueError`` for a name that is no category of the axis, and for a number that is
    not finite: a chart never shows one, and JSON has no word for it.
    """
    if axis.kind == "time":
        return [v if v is None else moment_of(v) for v in values]
    if axis.kind == "category":
        places = {name: float(place) for place, name in enumerate(axis.categories)}
        return [_category(value, places) for value in values]
    found = [None if value is None else float(value) for value in values]  # type: ignore[arg-type]
    for value in found:
        if value is not None and not math.isfinite(value):
            raise ValueError(f"{value} cannot be drawn.")
    return found


def moment_of(value: Where) -> float:
    """Seconds of the epoch; a number is taken as such."""
    return value.timestamp() if isinstance(value, datetime) else float(value)


def _category(value: Where | None, places: dict[str, float]) -> float | None:
    if isinstance(value, str):
        if value not in places:
            raise ValueError(f"“{value}” is no category of the axis.")
        return places[value]
    return None if value is None else float(value)  # type: ignore[arg-type]


def number_of(value: Where, axis: Axis) -> float:
    (found,) = numbers([value], axis)
    assert found is not None
    return found


def scale_of(
    axis: Axis, values: Iterable[float], *, from_zero: bool = False, head: float = ROOM
) -> Scale:
    """The ends of an axis: as it says, else what is on it with room beyond.

    ``from_zero``: bars stand on 0, so that 0 is shown, without room below it. ``head`` is the
    room at the high end, as a share of the range.
    """
    if axis.kind == "category":
        return Scale(axis, -0.5, max(len(axis.categories), 1) - 0.5)
    known = list(values) or [0.0]
    low, high = min(known), max(known)
    if from_zero:
        low, high = min(low, 0.0), max(high, 0.0)
    if low == high:
        room = DAY_S / 2 if axis.kind == "time" else (abs(low) * 0.1 or 0.5)
        beyond = room
    else:
        room = (high - low) * (ROOM / 2 if axis.kind == "time" else ROOM)
        beyond = room * head / ROOM
    low, high = (
        low if from_zero and low == 0 else low - room,
        high if from_zero and high == 0 else high + beyond,
    )
    low = low if axis.low is None else number_of(axis.low, axis)
    high = high if axis.high is None else number_of(axis.high, axis)
    if low >= high:
        high = low + (1.0 if axis.kind == "number" else float(DAY_S))
    return Scale(axis, low, high)


def x_values(mark: Mark, axis: Axis) -> list[float]:
    """Where a mark stands along the horizontal axis, with the width of bars."""
    match mark:
        case Line() | Dots() | Band():
            found = numbers(mark.x, axis)
        case Bars(sideways=False):
            at = _known(numbers(mark.at, axis))
            return [place + side * mark.width / 2 for place in at for side in (-1, 1)]
        case Bars():
            return list(mark.length)
        case Spread(sideways=False):
            found = numbers(mark.at, axis)
        case Spread():
            found = [*mark.low, *mark.middle, *mark.high]
        case Moment():
            found = [number_of(mark.x, axis)]
        case Level() | Cells():
            return []
    return _known(found)


def y_values(mark: Mark, axis: Axis) -> list[float]:
    """Where a mark stands along the vertical axis."""
    match mark:
        case Line() | Dots():
            found = list(mark.y)
        case Band():
            found = [*mark.low, *mark.high]
        case Bars(sideways=False):
            return list(mark.length)
        case Bars():
            at = _known(numbers(mark.at, axis))
            return [place + side * mark.width / 2 for place in at for side in (-1, 1)]
        case Spread(sideways=False):
            found = [*mark.low, *mark.middle, *mark.high]
        case Spread():
            found = numbers(mark.at, axis)
        case Level():
            return [mark.y]
        case Moment() | Cells():
            return []
    return _known(found)


def _known(values: Iterable[float | None]) -> list[float]:
    return [value for value in values if value is not None]


def shared_x(panels: Sequence[Panel]) -> Scale:
    """The horizontal axis that all panels of a figure share."""
    axis = panels[-1].x
    values = [v for panel in panels for mark in panel.marks for v in x_values(mark, panel.x)]
    sideways = any(isinstance(m, Bars) and m.sideways for panel in panels for m in panel.marks)
    return scale_of(axis, values, from_zero=sideways)


def own_y(panel: Panel) -> Scale:
    """The vertical axis of a panel."""
    values = [value for mark in panel.marks for value in y_values(mark, panel.y)]
    upright = any(isinstance(mark, Bars) and not mark.sideways for mark in panel.marks)
    # Words stand above a level's line, and stay within the panel.
    worded = any(isinstance(mark, Level) and mark.words for mark in panel.marks)
    return scale_of(panel.y, values, from_zero=upright, head=0.16 if worded else ROOM)


def thinned(ticks: Sequence[Tick], most: int) -> list[Tick]:
    """Every so many of the ticks, so that no more than ``most`` are left."""
    return list(ticks[:: max(1, math.ceil(len(ticks) / most))])


def number_ticks(low: float, high: float, most: int) -> list[Tick]:
    """Round numbers between the ends, in steps of 1, 2 or 5 times a power of ten.

    >>> [words for _, words in number_ticks(0.0, 1.0, 6)]
    ['0', '0.2', '0.4', '0.6', '0.8', '1']
    """
    rough = (high - low) / most
    power = math.floor(math.log10(rough))
    step = next(
        lead * 10.0**power for lead in (1, 2, 5, 10, 20) if lead * 10.0**power >= rough * 0.999999
    )
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [(n * step, number_words(n * step, places)) for n in range(first, last + 1)]


def number_words(value: float, places: int) -> str:
    """A number on an axis: no needless zeros, a true minus, the decimal sign in force."""
    text = f"{abs(value):.{places}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    text = signed(text)
    return f"\u2212{text}" if value < 0 and text != "0" else text


def time_ticks(low: float, high: float, most: int, zone: tzinfo) -> list[Tick]:
    """Round moments between the ends by the clock of ``zone``: hours, days, months or years."""
    span = high - low
    start = datetime.fromtimestamp(low, zone)
    for step in CLOCK_STEPS_S:
        if span / step <= most:
            return _clock_ticks(start, high, step)
    for days in DAY_STEPS:
        if span / (days * DAY_S) <= most:
            return _day_ticks(start, high, days)
    months = next((n for n in MONTH_STEPS if span / (n * 30.44 * DAY_S) <= most), 1200)
    return _month_ticks(start, high, months)


def _clock_ticks(start: datetime, high: float, step_s: int) -> list[Tick]:
    midnight = start.replace(hour=0, minute=0, second=0, microsecond=0)
    ticks: list[Tick] = []
    day = midnight
    while day.timestamp() <= high:
        for second in range(0, DAY_S, step_s):
            # By the clock on the wall, also on a day of 23 or 25 hours.
            moment = day.replace(hour=second // 3600, minute=second % 3600 // 60)
            if start.timestamp() <= moment.timestamp() <= high:
                words = shown_moment(moment, "H:i" if second else "j M")
                ticks.append((moment.timestamp(), words))
        day += timedelta(days=1)
    return ticks


def _day_ticks(start: datetime, high: float, days: int) -> list[Tick]:
    day = start.replace(hour=0, minute=0, second=0, microsecond=0)
    if days >= 7:  # weeks begin on Monday
        day -= timedelta(days=day.weekday())
    ticks: list[Tick] = []
    year = None
    while day.timestamp() <= high:
        if day.timestamp() >= start.timestamp():
            words = shown_moment(day, "j M" if year in (None, day.year) else "j M Y")
            year = day.year
            ticks.append((day.timestamp(), words))
        day += timedelta(days=days)
    return ticks


def _month_ticks(start: datetime, high: float, months: int) -> list[Tick]:
    count = start.year * 12 + start.month - 1
    count -= count % months
    ticks: list[Tick] = []
    while True:
        moment = datetime(count // 12, count % 12 + 1, 1, tzinfo=start.tzinfo)
        if moment.timestamp() > high:
            return ticks
        if moment >= start:
            name = MONTHS[moment.month - 1]
            whole = months % 12 == 0
            named = f"{name} {moment.year}" if not ticks or moment.month == 1 else name
            ticks.append((moment.timestamp(), str(moment.year) if whole else named))
        count += months

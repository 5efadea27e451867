"""A calendar of weeks: what happened to each of several things in each week."""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from brewhygiene.science.errors import OutOfRange

LONGEST_WEEKS = 530


@dataclasses.dataclass(frozen=True)
class Cell:
    """One thing in one week: ``count`` of ``number``; ``share`` is ``None`` where nothing was."""

    count: int = 0
    number: int = 0

    @property
    def share(self) -> float | None:
        return self.count / self.number if self.number else None


@dataclasses.dataclass(frozen=True)
class Calendar:
    """``cells[row][column]`` of each of ``names`` in each week, named by its Monday."""

    names: tuple[str, ...]
    mondays: tuple[date, ...]
    cells: tuple[tuple[Cell, ...], ...]


def monday_of(day: date) -> date:
    """The Monday that begins the week of ``day`` (weeks of seven days, units: days).

    >>> monday_of(date(2026, 3, 15))
    datetime.date(2026, 3, 9)
    """
    return day - timedelta(days=day.weekday())


def calendar(
    happened: Iterable[tuple[str, date, bool]], *, names: Sequence[str], since: date, until: date
) -> Calendar:
    """Count what ``happened`` (a name, a day, and whether it counts) by name and week.

    Rows in the order of ``names``, columns from the week of the day ``since`` to that of the
    day ``until``, every week between, whether anything happened in it or not. What lies outside
    is left out. Raises :class:`OutOfRange` with the days out of order or more than ten years.

    >>> grid = calendar([("FV1", date(2026, 3, 12), True)], names=["FV1"],
    ...                 since=date(2026, 3, 1), until=date(2026, 3, 12))
    >>> [str(day) for day in grid.mondays], [cell.number for cell in grid.cells[0]]
    (['2026-02-23', '2026-03-02', '2026-03-09'], [0, 0, 1])
    """
    if until < since:
        raise OutOfRange("The last day is before the first.")
    first = monday_of(since)
    weeks = (monday_of(until) - first).days // 7 + 1
    if weeks > LONGEST_WEEKS:
        raise OutOfRange(f"{weeks} weeks are more than fit: choose at most {LONGEST_WEEKS}.")
    counted = {name: [[0, 0] for _ in range(weeks)] for name in names}
    for name, day, counts in happened:
        week = (day - first).days // 7
        if name in counted and since <= day <= until:
            counted[name][week][0] += counts
            counted[name][week][1] += 1
    return Calendar(
        names=tuple(names),
        mondays=tuple(first + timedelta(weeks=week) for week in range(weeks)),
        cells=tuple(tuple(Cell(*both) for both in counted[name]) for name in names),
    )

"""A calendar of weeks: what happened to each of several things in each week."""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from brewhygiene.science.errors import OutOfRange, require

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


@dataclasses.dataclass(frozen=True)
class BadWeek:
    """A week in which more counted than chance explains: ``count`` of ``number`` in it, of all
    things together. ``chance`` is how often chance alone makes a week as bad among so many."""

    monday: date
    count: int
    number: int
    chance: float


def bad_weeks(grid: Calendar, *, chance: float = 0.01) -> list[BadWeek]:
    """The weeks of ``grid`` in which more counted than chance explains, the worst first.

    A week is named where chance would make any of all weeks as bad less often than ``chance`` (a
    share, 0.0001–0.5, of calendars such as this one): the exact binomial tail at the share of
    all other weeks, times the number of weeks (Bonferroni).

    >>> days = [("FV1", date(2026, 3, 2) + timedelta(days=n), n >= 63) for n in range(70)]
    >>> grid = calendar(days, names=["FV1"], since=date(2026, 3, 2), until=date(2026, 5, 10))
    >>> [(str(week.monday), week.count, week.number) for week in bad_weeks(grid)]
    [('2026-05-04', 7, 7)]
    """
    from scipy.special import bdtrc  # a fifth of a second that other pages need not wait for

    require("chance", chance, minimum=0.0001, maximum=0.5)
    columns = [
        (sum(row[n].count for row in grid.cells), sum(row[n].number for row in grid.cells))
        for n in range(len(grid.mondays))
    ]
    counted, all_told = sum(count for count, _ in columns), sum(number for _, number in columns)
    weeks = sum(number > 0 for _, number in columns)
    found = []
    for monday, (count, number) in zip(grid.mondays, columns, strict=True):
        others = all_told - number
        if not count or not others:
            continue
        # One more of either, so that others without any do not make a single one impossible.
        share = (counted - count + 1) / (others + 2)
        tail = min(1.0, weeks * float(bdtrc(count - 1, number, share)))
        if tail < chance:
            found.append(BadWeek(monday, count, number, tail))
    return sorted(found, key=lambda week: week.chance)


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
        raise OutOfRange(f"{weeks} weeks are too many. Choose at most {LONGEST_WEEKS}.")
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

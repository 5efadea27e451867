"""What happens most, and in which week."""

import random
from datetime import date, timedelta

import pytest

from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.rates.pareto import pareto
from brewhygiene.science.rates.weeks import Calendar, Cell, bad_weeks, calendar, monday_of


def test_pareto_puts_the_most_frequent_first_and_equals_by_name() -> None:
    found = pareto([("b", 2), ("a", 2), ("c", 15), ("none", 0), ("d", 1)])
    assert [bar.name for bar in found.bars] == ["c", "a", "b", "d"]
    assert [bar.running for bar in found.bars] == [0.75, 0.85, 0.95, 1.0]
    assert [bar.name for bar in found.vital] == ["c", "a"]
    assert found.total == 20


def test_pareto_of_nothing_is_refused() -> None:
    with pytest.raises(TooFewReadings):
        pareto([("a", 0)])


def test_calendar_has_every_week_and_counts_only_the_days_asked_for() -> None:
    grid = calendar(
        [
            ("FV1", date(2026, 2, 28), True),  # the same week, but before the first day
            ("FV1", date(2026, 3, 1), True),
            ("FV1", date(2026, 3, 16), False),
            ("FV1", date(2026, 3, 22), True),
            ("FV2", date(2026, 3, 17), True),
            ("another", date(2026, 3, 17), True),
        ],
        names=["FV2", "FV1"],
        since=date(2026, 3, 1),
        until=date(2026, 3, 22),
    )
    assert grid.mondays == tuple(
        date.fromisoformat(d) for d in ("2026-02-23", "2026-03-02", "2026-03-09", "2026-03-16")
    )
    assert grid.cells[1] == (Cell(1, 1), Cell(), Cell(), Cell(1, 2))
    assert [cell.share for cell in grid.cells[1]] == [1.0, None, None, 0.5]
    assert grid.cells[0][3] == Cell(1, 1)


def test_week_begins_on_monday_across_a_new_year() -> None:
    assert monday_of(date(2027, 1, 3)) == date(2026, 12, 28)


def test_calendar_refuses_days_out_of_order_and_too_many_weeks() -> None:
    with pytest.raises(OutOfRange, match="before the first"):
        calendar([], names=[], since=date(2026, 3, 2), until=date(2026, 3, 1))
    with pytest.raises(OutOfRange, match="Choose at most"):
        calendar([], names=[], since=date(2000, 1, 1), until=date(2026, 3, 1))


def weekly(bad: set[int], *, weeks: int = 40, vessels: int = 8) -> list[tuple[str, date, bool]]:
    """Each vessel once a week; in the bad weeks all count, else one vessel in every fifth."""
    return [
        (
            f"FV{vessel}",
            date(2026, 1, 5) + timedelta(weeks=week),
            week in bad or (vessel == 0 and week % 5 == 0),
        )
        for week in range(weeks)
        for vessel in range(vessels)
    ]


def grid_of(happened: list[tuple[str, date, bool]]) -> Calendar:
    return calendar(
        happened,
        names=[f"FV{n}" for n in range(8)],
        since=date(2026, 1, 5),
        until=date(2026, 10, 11),
    )


def test_weeks_in_which_all_count_are_named_the_worst_first() -> None:
    weeks = bad_weeks(grid_of([*weekly({20}), ("FV1", date(2026, 2, 2), True)]))
    assert [(week.monday, week.count, week.number) for week in weeks] == [(date(2026, 5, 25), 8, 8)]
    assert weeks[0].chance < 1e-6


def test_no_week_is_named_where_luck_explains_all() -> None:
    chance = random.Random(11)
    named = 0
    for _ in range(200):
        happened = [(name, day, chance.random() < 0.1) for name, day, _ in weekly(set(), weeks=40)]
        named += bool(bad_weeks(grid_of(happened)))
    assert named <= 6  # of 200 calendars, at 1 in a hundred


def test_no_week_is_named_where_nothing_happened() -> None:
    assert bad_weeks(grid_of([])) == []
    assert bad_weeks(grid_of([("FV1", date(2026, 1, 5), True)])) == []

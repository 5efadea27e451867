"""What happens most, and in which week."""

from datetime import date

import pytest

from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.rates.pareto import pareto
from brewhygiene.science.rates.weeks import Cell, calendar, monday_of


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
    with pytest.raises(OutOfRange, match="choose at most"):
        calendar([], names=[], since=date(2000, 1, 1), until=date(2026, 3, 1))

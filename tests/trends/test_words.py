"""Days and rows of words, the same on every chart."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from brewhygiene.trends.words import day_words, listed, long_day_words


def test_rows_of_words() -> None:
    assert (listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])) == (
        "a",
        "a and b",
        "a, b and c",
    )


def test_days_are_those_of_the_zone() -> None:
    late = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)
    assert day_words(late, ZoneInfo("Europe/Copenhagen")) == "3 Mar 2026"
    assert long_day_words(date(2026, 3, 2)) == "2 March 2026"

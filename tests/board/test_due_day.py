"""By when something is due, as the board says it: a weekday where that is one day only."""

from datetime import timedelta

import pytest
from django.utils import timezone

from brewhygiene.templatetags.everywhere import due_day
from tests import clock

DAY, SECOND = timedelta(days=1), timedelta(seconds=1)


@pytest.mark.parametrize(
    ("away", "words"),
    [
        (timedelta(hours=2), "Wed 12:24"),
        (6 * DAY, "Tue 10:24"),
        (6 * DAY + SECOND, "23 Jun"),
        (14 * DAY, "1 Jul"),
        (-6 * DAY, "Thu 10:24"),
        (-6 * DAY - SECOND, "11 Jun"),
    ],
)
def test_weekday_within_six_days_and_the_date_beyond(away: timedelta, words: str) -> None:
    with timezone.override("UTC"):
        assert due_day(clock.now() + away) == words


def test_day_is_the_brewerys_own_and_none_says_nothing() -> None:
    late = clock.now().replace(hour=23) + 9 * DAY
    with timezone.override("Europe/Copenhagen"):
        assert due_day(late) == "27 Jun"
    assert due_day(None) == ""

"""Periods as addresses ask for them."""

import zoneinfo
from datetime import UTC, datetime, timedelta

import pytest
from django.utils import timezone

from brewhygiene.trends.turns.periods import NoSuchPeriod, month_asked, months_until, period_asked

NOW = datetime(2026, 3, 10, 9, tzinfo=UTC)
VIENNA = zoneinfo.ZoneInfo("Europe/Vienna")


def test_month_runs_by_the_brewerys_calendar() -> None:
    """Summer time began in Austria on 29 March 2026: that month has an hour less."""
    with timezone.override(VIENNA):
        period = month_asked("2026-03", now=NOW)
    assert period.words == "March 2026"
    assert period.since.astimezone(UTC) == datetime(2026, 2, 28, 23, tzinfo=UTC)
    assert period.until.astimezone(UTC) == datetime(2026, 3, 31, 22, tzinfo=UTC)


def test_month_before_january_is_december() -> None:
    with timezone.override(UTC):
        before = month_asked("2026-01", now=NOW).before
    assert (before.code, before.words) == ("2025-12", "December 2025")
    assert before.until == datetime(2026, 1, 1, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("2026-13", "“2026-13” is not a month. Write it as e.g. 2026-03."),
        ("2026-00", "“2026-00” is not a month. Write it as e.g. 2026-03."),
        ("march", "“march” is not a month. Write it as e.g. 2026-03."),
        ("0000-01", "“0000-01” is not a month. Write it as e.g. 2026-03."),
        ("2026-04", "April 2026 has not started."),
        ("9998-12", "December 9998 has not started."),
    ],
)
def test_what_is_no_month_or_has_not_begun_is_refused(text: str, says: str) -> None:
    with timezone.override(UTC), pytest.raises(NoSuchPeriod) as refused:
        month_asked(text, now=NOW)
    assert str(refused.value) == says


def test_days_end_now_and_have_as_many_before() -> None:
    period = period_asked("30", now=NOW)
    assert (period.words, period.until, period.since) == (
        "the last 30 days",
        NOW,
        NOW - timedelta(days=30),
    )
    assert (period.before.words, period.before.until) == ("the 30 days before", period.since)
    assert period_asked("", now=NOW).words == "the last 90 days"
    with timezone.override(UTC):
        assert period_asked("2026-02", now=NOW).words == "February 2026"


def test_months_up_to_now_are_listed_over_the_turn_of_the_year() -> None:
    with timezone.override(UTC):
        assert [month.code for month in months_until(NOW, 4)] == [
            "2025-12",
            "2026-01",
            "2026-02",
            "2026-03",
        ]

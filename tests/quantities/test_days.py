"""Dates and times as they are typed: plausible years, and what the clocks skip or repeat.

The changes are those of the European Union's summer time: at 01:00 UTC on the last Sunday of March
and of October (Directive 2000/84/EC, articles 2 and 3).
"""

import zoneinfo
from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest
from django import forms
from django.utils import timezone

from brewhygiene.quantities.days import DayField, MomentField, is_repeated, is_skipped

ZONE = zoneinfo.ZoneInfo("Europe/Copenhagen")


@pytest.fixture(autouse=True)
def at_the_brewery() -> Iterator[None]:
    with timezone.override(ZONE):
        yield


class When(forms.Form):
    at = MomentField(label="When")
    day = DayField(label="Day", required=False)


def sent(at: str, **more: str) -> When:
    return When({"at": at, **more})


def error_of(form: When, name: str = "at") -> str:
    assert not form.is_valid()
    return form.errors.as_data()[name][0].code or ""


@pytest.mark.parametrize(
    ("typed", "utc"),
    [
        ("2026-03-14T06:30", datetime(2026, 3, 14, 5, 30, tzinfo=UTC)),
        ("2026-03-29T01:59", datetime(2026, 3, 29, 0, 59, tzinfo=UTC)),
        ("2026-03-29T03:00", datetime(2026, 3, 29, 1, 0, tzinfo=UTC)),
        ("2026-10-25T01:59", datetime(2026, 10, 24, 23, 59, tzinfo=UTC)),
        ("2026-10-25T03:00", datetime(2026, 10, 25, 2, 0, tzinfo=UTC)),
        ("2000-01-01T00:00", datetime(1999, 12, 31, 23, 0, tzinfo=UTC)),
        ("2099-12-31T23:59", datetime(2099, 12, 31, 22, 59, tzinfo=UTC)),
    ],
)
def test_time_on_the_wall_is_taken_as_the_brewerys_own(typed: str, utc: datetime) -> None:
    form = sent(typed)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["at"] == utc


@pytest.mark.parametrize(
    "typed", ["0001-01-01T00:00", "1999-12-31T23:59", "2100-01-01T00:00", "9999-12-31T23:59"]
)
def test_year_that_no_record_is_of_is_refused(typed: str) -> None:
    assert error_of(sent(typed)) == "year"


@pytest.mark.parametrize("typed", ["yesterday", "2026-13-01T00:00", "2026-03-14T24:61", "x" * 9])
def test_what_is_no_time_is_refused(typed: str) -> None:
    assert error_of(sent(typed)) == "invalid"


@pytest.mark.parametrize("typed", ["2026-03-29T02:00", "2026-03-29T02:30", "2026-03-29T02:59"])
def test_time_that_the_clocks_skipped_is_refused(typed: str) -> None:
    assert error_of(sent(typed)) == "skipped"


@pytest.mark.parametrize("typed", ["2026-10-25T02:00", "2026-10-25T02:59"])
def test_time_that_came_twice_is_asked_about(typed: str) -> None:
    form = sent(typed)
    assert error_of(form) == "repeated"
    box = str(form["at"])
    assert box.count('type="radio" name="at_turn"') == 2
    assert "checked" not in box
    assert f'value="{typed}"' in box


@pytest.mark.parametrize(
    ("turn", "utc"),
    [
        ("1", datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
        ("2", datetime(2026, 10, 25, 1, 30, tzinfo=UTC)),
    ],
)
def test_chosen_turn_is_taken_and_shown_again(turn: str, utc: datetime) -> None:
    form = sent("2026-10-25T02:30", at_turn=turn)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["at"] == utc
    assert f'name="at_turn" value="{turn}" checked' in str(form["at"])


def test_turn_beside_an_hour_that_came_once_changes_nothing() -> None:
    form = sent("2026-03-14T06:30", at_turn="2")
    assert form.is_valid()
    assert form.cleaned_data["at"] == datetime(2026, 3, 14, 5, 30, tzinfo=UTC)
    assert "at_turn" not in str(form["at"])


def test_moment_on_record_in_a_repeated_hour_keeps_its_turn() -> None:
    second = datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    box = str(When(initial={"at": second})["at"])
    assert 'value="2026-10-25T02:30"' in box
    assert 'name="at_turn" value="2" checked' in box


@pytest.mark.parametrize(
    ("typed", "code"),
    [("1999-12-31", "year"), ("2100-01-01", "year"), ("2026-02-29", "invalid"), ("x", "invalid")],
)
def test_day_that_cannot_be_is_refused(typed: str, code: str) -> None:
    assert error_of(sent("2026-03-14T06:30", day=typed), "day") == code


def test_first_and_last_day_are_taken() -> None:
    for typed in ("2000-01-01", "2099-12-31"):
        form = sent("2026-03-14T06:30", day=typed)
        assert form.is_valid()
        assert form.cleaned_data["day"] == date.fromisoformat(typed)


def test_zone_without_summer_time_skips_and_repeats_nothing() -> None:
    tokyo = zoneinfo.ZoneInfo("Asia/Tokyo")
    for hour in range(24):
        for day in ((2026, 3, 29), (2026, 10, 25)):
            moment = datetime(*day, hour, 30)  # noqa: DTZ001
            assert (is_skipped(moment, tokyo), is_repeated(moment, tokyo)) == (False, False)

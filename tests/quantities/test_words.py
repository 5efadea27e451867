"""Shares, counts and spans in words, at the edges where they change."""

from datetime import timedelta

import pytest

from brewhygiene.quantities.words import (
    capital,
    counted,
    hours_words,
    how_many,
    minutes_words,
    one_or_many,
    percent,
    percent_range,
    percent_with_interval,
    span_words,
)


@pytest.mark.parametrize(
    "share, words",
    [
        (0, "0 %"),
        (1e-9, "below 1 %"),
        (0.0049, "below 1 %"),
        (0.0051, "1 %"),
        (0.5, "50 %"),
        (0.994, "99 %"),
        (0.996, "above 99 %"),
        (1 - 1e-9, "above 99 %"),
        (1, "100 %"),
    ],
)
def test_none_and_all_are_said_only_of_exactly_none_and_all(share: float, words: str) -> None:
    assert percent(share) == words


def test_a_range_goes_by_the_same_rule_as_its_ends() -> None:
    assert percent_range(0, 1) == "0 to 100 %"
    assert percent_range(0.004, 0.12) == "below 1 to 12 %"
    assert percent_range(0.9, 0.996) == "90 to above 99 %"
    assert percent_with_interval(0.996, 0.96, 1) == "above 99 % (95 % interval 96 to 100 %)"


@pytest.mark.parametrize(
    "number, figure, sentence",
    [(0, "0 boxes", "no box"), (1, "1 box", "1 box"), (2, "2 boxes", "2 boxes")],
)
def test_a_number_goes_with_its_noun(number: int, figure: str, sentence: str) -> None:
    assert counted(number, "box", "boxes") == figure
    assert how_many(number, "box", "boxes") == sentence


def test_a_noun_that_has_no_plural_of_its_own_takes_an_s() -> None:
    assert (one_or_many(1, "plate"), one_or_many(3, "plate")) == ("plate", "plates")
    assert counted(3, "plate") == how_many(3, "plate") == "3 plates"


def test_only_the_first_letter_becomes_a_capital() -> None:
    assert capital("no plate of FV 1") == "No plate of FV 1"
    assert capital("") == ""


@pytest.mark.parametrize(
    "hours, words",
    [(0, "0 min"), (0.99, "59 min"), (1, "1 h"), (99.4, "99 h"), (100, "100 h"), (123.4, "123 h")],
)
def test_hours(hours: float, words: str) -> None:
    assert hours_words(hours) == words


@pytest.mark.parametrize(
    "minutes, words",
    [(0, "0 min"), (59.4, "59 min"), (60, "1 h"), (61, "1 h 1 min"), (120.4, "2 h")],
)
def test_minutes(minutes: float, words: str) -> None:
    assert minutes_words(minutes) == words


@pytest.mark.parametrize(
    "span, words",
    [
        (timedelta(seconds=59), "0 min"),
        (timedelta(minutes=59, seconds=59), "59 min"),
        (timedelta(minutes=60), "1 h"),
        (timedelta(minutes=61), "1 h 1 min"),
        (timedelta(hours=24), "1 d"),
        (timedelta(hours=25, minutes=59), "1 d 1 h"),
        (timedelta(days=-2), "2 d"),
    ],
)
def test_spans(span: timedelta, words: str) -> None:
    assert span_words(span) == words

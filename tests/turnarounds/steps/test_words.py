"""What a step's screen says of its time."""

from datetime import UTC, datetime, timedelta

import pytest

from brewhygiene.turnarounds.steps.words import Clock

START = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)


def clock(seconds: float, least: float | None, target: float | None, most: float | None) -> Clock:
    return Clock(
        started_at=START,
        now=START + timedelta(seconds=seconds),
        before_s=0,
        minimum_s=least,
        target_s=target,
        maximum_s=most,
    )


@pytest.mark.parametrize(
    ("seconds", "words", "enough"),
    [
        (0, "20:00 until the minimum", False),
        (754.4, "7:26 until the minimum", False),
        (1199.9, "0:01 until the minimum", False),
        (1200, "10:00 until the target", True),
        (1800, "Time reached, 15:00 until the maximum", True),
        (2700, "Time reached, 0:00 until the maximum", True),
        (2730, "0:30 over the maximum", True),
    ],
)
def test_the_clock_says_what_is_left(seconds: float, words: str, enough: bool) -> None:
    shown = clock(seconds, 1200, 1800, 2700)
    assert (shown.left_words, shown.enough) == (words, enough)


def test_the_clock_and_what_is_left_add_up() -> None:
    shown = clock(754.4, 1200, None, None)
    assert (shown.text, shown.left_words) == ("12:34", "7:26 until the minimum")


def test_a_step_without_a_time_has_nothing_left() -> None:
    shown = clock(60, None, None, None)
    assert (shown.left_words, shown.enough) == ("", True)


def test_the_clock_counts_what_ran_before() -> None:
    shown = Clock(
        started_at=START,
        now=START + timedelta(minutes=5),
        before_s=900,
        minimum_s=1200,
        target_s=None,
        maximum_s=None,
    )
    assert (shown.text, shown.left_words) == ("20:00", "Time reached")

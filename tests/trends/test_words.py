"""Shares, counts and days in words, the same on every page."""

import pytest

from brewhygiene.trends.words import counted, hours_words, listed, percent, percent_range


@pytest.mark.parametrize(
    "share, words",
    [
        (0, "0 %"),
        (0.0004, "below 0.1 %"),
        (0.004, "0.4 %"),
        (0.5, "50 %"),
        (0.996, "99.6 %"),
        (0.9996, "above 99.9 %"),
        (1, "100 %"),
    ],
)
def test_percentages_do_not_round_to_none_or_all(share: float, words: str) -> None:
    assert percent(share) == words


def test_range_has_the_words_of_its_ends() -> None:
    assert percent_range(0.744, 0.996) == "74 % to 99.6 %"


def test_counts_and_rows_of_words() -> None:
    assert [counted(n, "plate") for n in range(3)] == ["no plate", "1 plate", "2 plates"]
    assert (listed(["a"]), listed(["a", "b"]), listed(["a", "b", "c"])) == (
        "a",
        "a and b",
        "a, b and c",
    )
    assert (hours_words(0.5), hours_words(7.26), hours_words(50)) == ("30 min", "7.3 h", "50 h")

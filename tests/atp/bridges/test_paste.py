"""Pairs pasted as two columns."""

import pytest

from brewhygiene.atp.bridges.paste import NotPairs, PairRow, pairs_in_lines


@pytest.mark.parametrize(
    "text",
    ["12\t9", "12;9", "12; 9", "12, 9", "12,9", "12 9", "  12   9 ", "12 | 9", "old\tnew\n12\t9\n"],
)
def test_two_columns_are_read_with_any_separator(text: str) -> None:
    assert pairs_in_lines(text) == [PairRow(12, 9)]


@pytest.mark.parametrize("text", ["12\t", "12\t-", "12;", "12 -", "12; x", "12\tmissing"])
def test_missing_second_side_is_a_side_missing(text: str) -> None:
    assert pairs_in_lines(text) == [PairRow(12, None)]


@pytest.mark.parametrize("text", ["\t9", "- 9", ";9", "–\t9"])
def test_missing_first_side_is_a_side_missing(text: str) -> None:
    assert pairs_in_lines(text) == [PairRow(None, 9)]


def test_zero_is_a_reading() -> None:
    assert pairs_in_lines("0 0") == [PairRow(0, 0)]


def test_every_line_in_error_is_told_and_nothing_is_read() -> None:
    with pytest.raises(NotPairs) as caught:
        pairs_in_lines("12 9\n7\n\nten 9\n1 2 3\n- -\n1 -4\n5 99999999\n8.5 3\n1 234; 7")
    assert caught.value.problems == [
        "No pair was added. Correct these lines:",
        "Line 2, “7”: enter a second number, or a dash for a missing reading.",
        "Line 4, “ten 9”: “ten” is not a whole number. Enter digits only, e.g. 12.",
        "Line 5, “1 2 3”: enter two numbers, not 3.",
        "Line 6, “- -”: enter at least one reading.",
        "Line 7, “1 -4”: A count cannot be below 0. Enter 0 or more.",
        "Line 8, “5 99999999”: 99999999 RLU is not possible. Enter at most 9999999.",
        "Line 9, “8.5 3”: “8.5” is not a whole number. Enter digits only, e.g. 12.",
        "Line 10, “1 234; 7”: “1 234” is not clear. Enter it without a space.",
    ]


def test_many_lines_in_error_are_counted() -> None:
    with pytest.raises(NotPairs) as caught:
        pairs_in_lines("1 2\n" + "no\n" * 20)
    assert len(caught.value.problems) == 14
    assert caught.value.problems[-1] == "and 8 more."


@pytest.mark.parametrize("text", ["", " \n ", "old new"])
def test_nothing_is_said_to_be_nothing(text: str) -> None:
    with pytest.raises(NotPairs, match=r"Enter two numbers a line: reference, then new\."):
        pairs_in_lines(text)


def test_too_many_lines_are_refused() -> None:
    with pytest.raises(NotPairs, match=r"Enter at most 500 lines at once\. There are 501\."):
        pairs_in_lines("1 2\n" * 501)

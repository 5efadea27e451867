"""Pasted lines of numbers."""

import pytest

from brewhygiene.quantities.lines import NotLines, numbers_in_lines

TWO = ("time", "temperature")


@pytest.mark.parametrize(
    "line, values",
    [
        ("1; 60,5", (1, 60.5)),
        ("1,5;60,5", (1.5, 60.5)),
        ("1\t60.5", (1, 60.5)),
        ("1 60.5", (1, 60.5)),
        ("1, 60.5", (1, 60.5)),
        ("1,60.5", (1, 60.5)),
        ("1 | 60", (1, 60)),
        ("−1; −60", (-1, -60)),
        ("7:05; 60", (425, 60)),
        ("7:05:30; 60", (425.5, 60)),
    ],
)
def test_line_is_read_with_any_separator(line: str, values: tuple[float, ...]) -> None:
    rows = numbers_in_lines(line, columns=TWO, clock=True)
    assert [row.values for row in rows] == [values]


def test_heading_and_empty_lines_are_passed_over() -> None:
    rows = numbers_in_lines("time; temp\n\n1; 60\n\n2; 61\n", columns=TWO)
    assert [(row.line, row.values) for row in rows] == [(3, (1, 60)), (5, (2, 61))]


@pytest.mark.parametrize(
    "text, message",
    [
        ("", "Enter at least one line of numbers, each with time and temperature."),
        ("time", "Enter at least one line of numbers, each with time and temperature."),
        ("1; 60\n2",
         "Line 2, “2”: enter time and temperature, separated by a space or semicolon."),
        ("1,5,60,5", ("Line 1, “1,5,60,5”: enter time and temperature, separated by a space or "
                      "semicolon.")),
        ("1; 60\n2; hot", "Line 2: “hot” is not a number. Enter digits, e.g. 2.5 or 2,5."),
        ("1; 7:05", "Line 1: “7:05” is not a number. Enter digits, e.g. 2.5 or 2,5."),
        ("1; 60\n" * 501, "501 lines are too many. Enter at most 500."),
    ],
)  # fmt: skip
def test_lines_that_cannot_be_read_name_their_place(text: str, message: str) -> None:
    with pytest.raises(NotLines) as refused:
        numbers_in_lines(text, columns=TWO, clock=True)
    assert str(refused.value) == message

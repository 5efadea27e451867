"""Typed words to numbers and back."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.quantities.parsing import (
    LONGEST,
    NotANumber,
    parse_count,
    parse_number,
    parse_row,
    show_number,
)
from brewhygiene.quantities.units import convert


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("2.5", 2.5),
        ("2,5", 2.5),
        (" 2,5 ", 2.5),
        (",5", 0.5),
        ("5.", 5),
        ("−1", -1),
        ("1 200", 1200),
    ],
)
def test_number_is_read_with_comma_or_point(typed: str, value: float) -> None:
    assert parse_number(typed) == value


@pytest.mark.parametrize(
    "typed", ["", " ", "abc", "1.200,5", "1,2,3", "2..5", "1e5", "nan", "inf", "0x10", "٣", "--2"]
)
def test_what_is_no_number_is_refused(typed: str) -> None:
    with pytest.raises(NotANumber):
        parse_number(typed)


@pytest.mark.parametrize("typed", ["-1", "2.5", "2,0", "twelve", ""])
def test_what_is_no_count_is_refused(typed: str) -> None:
    with pytest.raises(NotANumber):
        parse_count(typed)


@pytest.mark.parametrize("parse", [parse_number, parse_count])
def test_number_has_a_longest_length(parse: Callable[[str], float]) -> None:
    """Python itself raises for thousands of digits, which nobody would catch."""
    assert parse("0" * (LONGEST - 1) + "7") == 7
    for typed in ("0" * LONGEST + "7", "9" * 5000):
        with pytest.raises(NotANumber, match=r"^This is too long for a number\."):
            parse(typed)


@pytest.mark.parametrize(
    ("text", "row"),
    [
        ("12", 12),
        ("0", 0),
        ("9" * 18, 10**18 - 1),
        ("9" * 19, None),
        ("9" * 5000, None),
        ("-1", None),
        ("1.0", None),
        ("", None),
        ("²", None),
        ("x", None),
    ],
)
def test_number_of_a_row_is_one_that_a_database_can_have(text: str, row: int | None) -> None:
    assert parse_row(text) == row


def test_count_zero_is_a_number() -> None:
    assert parse_count("0") == 0


@given(st.text(max_size=12))
def test_anything_typed_is_a_number_or_refused(typed: str) -> None:
    try:
        value = parse_number(typed)
    except NotANumber:
        return
    assert value == value


@given(st.floats(1e-3, 1e6))
def test_shown_number_is_read_back_within_its_digits(value: float) -> None:
    assert parse_number(show_number(value)) == pytest.approx(value, rel=5e-4)


@given(
    st.floats(-50, 200),
    st.sampled_from(
        [("C", "F"), ("hL", "bbl"), ("hL", "gal"), ("L/min", "gpm"), ("L/min", "hL/h")]
    ),
)
def test_units_convert_there_and_back(value: float, units: tuple[str, str]) -> None:
    stored, shown = units
    assert convert(convert(value, stored, shown), shown, stored) == pytest.approx(value, abs=1e-9)


# Exact by definition: 1 US gallon = 231 cubic inches = 3.785411784 L (NIST Handbook 44,
# appendix C); a beer barrel is 31 US gallons (27 CFR 25.11, from memory); 0 °C = 32 °F.
@pytest.mark.parametrize(
    ("value", "stored", "shown", "expected"),
    [
        (3.785411784, "L/min", "gpm", 1),
        (1.17347765304, "hL", "bbl", 1),
        (100, "C", "F", 212),
        (0, "C", "F", 32),
        (10, "L/min", "hL/h", 6),
    ],
)
def test_units_convert_as_defined(value: float, stored: str, shown: str, expected: float) -> None:
    assert convert(value, stored, shown) == pytest.approx(expected, rel=1e-9)

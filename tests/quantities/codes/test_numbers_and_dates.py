"""Check digits, product numbers of every length, and the dates of barcodes."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.quantities.codes.dates import day_of, full_year
from brewhygiene.quantities.codes.numbers import (
    check_digit,
    has_check_digit,
    is_gtin,
    is_number,
    whole_gtin,
)

DIGITS = st.text("0123456789", min_size=7, max_size=13)


@given(DIGITS)
def test_a_digit_that_is_wrong_by_any_amount_is_found(digits: str) -> None:
    right = check_digit(digits)
    assert [n for n in range(10) if has_check_digit(f"{digits}{n}")] == [right]


@given(DIGITS, st.integers(0, 12), st.integers(1, 9))
def test_one_digit_misread_is_found(digits: str, place: int, more: int) -> None:
    place %= len(digits)
    other = str((int(digits[place]) + more) % 10)
    misread = digits[:place] + other + digits[place + 1 :]
    assert check_digit(misread) != check_digit(digits)


@given(DIGITS)
def test_zeros_before_a_number_change_nothing(digits: str) -> None:
    assert check_digit(digits.zfill(17)) == check_digit(digits)


@pytest.mark.parametrize(
    "text, is_one",
    [
        ("9506000134352", True),
        ("09506000134352", True),
        ("009506000134352", False),
        ("9506000134353", False),
        ("40170725", True),
        ("614141000013", False),
        ("614141000036", True),
        ("٩506000134352", False),
        ("", False),
    ],
)
def test_bare_product_number(text: str, is_one: bool) -> None:
    assert is_gtin(text) is is_one


def test_digits_of_other_scripts_are_none() -> None:
    assert not is_number("٣")
    assert is_number("3")


def test_a_product_has_one_number_however_long_its_barcode() -> None:
    assert whole_gtin("40170725") == "00000040170725"
    assert whole_gtin("9506000134352") == whole_gtin("09506000134352")


@given(st.integers(0, 99), st.integers(1960, 2140))
def test_year_is_the_nearest_with_these_digits(two: int, year: int) -> None:
    found = full_year(two, year=year)
    assert found % 100 == two
    assert -49 <= found - year <= 50


@pytest.mark.parametrize(
    "two, year, full", [(76, 2026, 2076), (77, 2026, 1977), (50, 2099, 2050), (49, 2099, 2149)]
)
def test_year_at_its_bounds(two: int, year: int, full: int) -> None:
    assert full_year(two, year=year) == full


@pytest.mark.parametrize("digits", ["271300", "270001", "270229", "270431", "261131"])
def test_no_day(digits: str) -> None:
    with pytest.raises(ValueError):
        day_of(digits, year=2026)


def test_last_day_of_a_leap_february() -> None:
    assert day_of("280229", year=2026) == day_of("280200", year=2026) == date(2028, 2, 29)

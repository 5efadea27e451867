"""Codes of packages against the GS1 General Specifications.

Formats, predefined lengths, the open day and the century were read in GS1's Barcode Syntax
Dictionary and its reference checks; the element strings are our own after those rules, and were
read with a second, independent reader besides.
"""

from collections.abc import Callable

import pytest

from brewhygiene.quantities.codes.dates import day_of, full_year
from brewhygiene.quantities.codes.element_strings import Unreadable, read_code
from brewhygiene.quantities.codes.numbers import check_digit

Published = Callable[..., None]

CHECK = "GS1 General Specifications 7.9"
GS1_EXAMPLE = f"{CHECK}; GS1's own example of its web page (from memory)"
MANUAL = f"{CHECK}; number of a barcode manual (read)"
COMPUTED = f"{CHECK} (rule read in GS1's reference check, number computed)"
CENTURY = "GS1 General Specifications 7.12 (rule read in GS1's reference check, year computed)"
OPEN_DAY = (
    "GS1 General Specifications 3.4 to 3.6 (rule read in GS1's reference check, day computed)"
)
STRINGS = (
    "GS1 General Specifications; GS1 Barcode Syntax Dictionary, commit ff2eb4b (rules read, string "
    "our own)"
)

CHECK_DIGITS = [
    ("629104150021", 3, GS1_EXAMPLE),
    ("0952123454321", 3, MANUAL),
    ("0950600013435", 2, COMPUTED),
    ("10614141234567890", 8, COMPUTED),
    ("0061414100001", 2, COMPUTED),
]


@pytest.mark.parametrize("digits, digit, source", CHECK_DIGITS)
def test_check_digit_is_as_published(
    published: Published, digits: str, digit: int, source: str
) -> None:
    published(f"check digit of {digits}", check_digit(digits), digit, source)


YEARS = [
    (26, 2026, 2026),
    (76, 2026, 2076),
    (77, 2026, 1977),
    (99, 2026, 1999),
    (0, 2026, 2000),
    (99, 2049, 2099),
    (0, 2051, 2100),
    (50, 2099, 2050),
]


@pytest.mark.parametrize("two, year, full", YEARS)
def test_century_is_as_published(published: Published, two: int, year: int, full: int) -> None:
    published(f"year {two:02} read in {year}", full_year(two, year=year), full, CENTURY)


LAST_DAYS = [
    ("270200", "2027-02-28"),
    ("280200", "2028-02-29"),
    ("271200", "2027-12-31"),
    ("270400", "2027-04-30"),
]


@pytest.mark.parametrize("digits, day", LAST_DAYS)
def test_open_day_is_as_published(published: Published, digits: str, day: str) -> None:
    published(f"day of {digits}", day_of(digits, year=2026).isoformat(), day, OPEN_DAY)


GTIN = "09506000134352"
# ^ is FNC1, which arrives as the character GS.
SCANS = [
    ("]C101095060001343521727120010LOT42", {"01": GTIN, "17": "2027-12-31", "10": "LOT42"}),
    (
        "]d2010950600013435210AB-12/3^1728010521000017",
        {"01": GTIN, "10": "AB-12/3", "17": "2028-01-05", "21": "000017"},
    ),
    ("]C100106141412345678908", {"00": "106141412345678908"}),
    (
        "]Q302006141410000123712^13261130",
        {"02": "00614141000012", "37": "12", "13": "2026-11-30"},
    ),
    ("010950600013435230144^240ART-9/b", {"01": GTIN, "30": "144", "240": "ART-9/b"}),
    (
        "0109506000134352^11260105^15280200",
        {"01": GTIN, "11": "2026-01-05", "15": "2028-02-29"},
    ),
    ("010950600013435210A17280105", {"01": GTIN, "10": "A17280105"}),
    ("010950600013435310A", "check digit of AI 01"),
    ("010950600013435217270229", "day in AI 17"),
    ("010950600013435210AAAAAAAAAAAAAAAAAAAAA", "length of AI 10"),
]


@pytest.mark.parametrize("scan, meaning", SCANS)
def test_element_string_is_as_published(
    published: Published, scan: str, meaning: dict[str, str] | str
) -> None:
    try:
        code = read_code(scan.replace("^", "\x1d"), year=2026)
    except Unreadable as error:
        ours: dict[str, str] | str = error.about
    else:
        ours = code.values | {number: day.isoformat() for number, day in code.days.items()}
    published(f"element string {scan}", ours, meaning, STRINGS)

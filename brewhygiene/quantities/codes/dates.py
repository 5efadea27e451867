"""The six digits of a date in a barcode: which century, and a day that is left open."""

import calendar
from datetime import date

HALF, CENTURY = 50, 100


def full_year(two_digits: int, *, year: int) -> int:
    """The year that two digits mean in a reference ``year``: within 49 before and 50 after it.

    GS1 General Specifications, 7.12.

    >>> full_year(99, year=2026), full_year(0, year=2051)
    (1999, 2100)
    """
    ahead = two_digits - year % CENTURY
    century = year - year % CENTURY
    if ahead > HALF:
        century -= CENTURY
    elif ahead < -(HALF - 1):
        century += CENTURY
    return century + two_digits


def day_of(digits: str, *, year: int) -> date:
    """The day that YYMMDD means; 00 is the month's last day. Raises ``ValueError`` for no day.

    >>> day_of("280200", year=2026).isoformat()
    '2028-02-29'
    """
    in_year, month = full_year(int(digits[:2]), year=year), int(digits[2:4])
    if not 1 <= month <= 12:
        raise ValueError(digits)
    day = int(digits[4:6]) or calendar.monthrange(in_year, month)[1]
    return date(in_year, month, day)

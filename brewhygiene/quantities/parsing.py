"""Typed words to numbers, and numbers to words."""

import math
import re

from brewhygiene.quantities.style import signed

_NUMBER = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)")


# More digits than any quantity has; Python itself refuses thousands of them.
LONGEST = 40
# As many as the largest number of a row has.
_ROW_DIGITS = 18


class NotANumber(ValueError):
    """What was typed is no number; the message says so in the user's words."""


def parse_number(text: str) -> float:
    """A number from what was typed, with a decimal comma or point.

    Raises :class:`NotANumber` for letters, two separators (which could be read two ways) and
    the like. Spaces around are ignored, spaces within are thousands separators.

    >>> parse_number(" 2,5 ")
    2.5
    """
    compact = _compact(text)
    if not compact:
        raise NotANumber("Enter a number.")
    if compact.count(",") + compact.count(".") > 1:
        raise NotANumber(f"“{text.strip()}” is ambiguous. Enter it without thousands separators.")
    if not _NUMBER.fullmatch(compact):
        raise NotANumber(f"“{text.strip()}” is not a number. Enter digits, e.g. 2.5 or 2,5.")
    value = float(compact.replace(",", "."))
    if not math.isfinite(value):
        raise NotANumber(f"“{text.strip()}” is too large. Enter a smaller number.")
    return value


def parse_count(text: str) -> int:
    """A whole number from 0 up, from what was typed.

    Raises :class:`NotANumber` for a fraction, a negative number or no number.

    >>> parse_count("12")
    12
    """
    compact = _compact(text)
    if not compact:
        raise NotANumber("Enter a whole number.")
    if _NUMBER.fullmatch(compact) and parse_number(text) < 0:
        raise NotANumber("A count cannot be below 0. Enter 0 or more.")
    # No separators and no letters: what a meter shows has neither.
    if not re.fullmatch(r"[+-]?[0-9]+", compact):
        raise NotANumber(f"“{text.strip()}” is not a whole number. Enter digits only, e.g. 12.")
    return int(compact)


def _compact(text: str) -> str:
    """What was typed without spaces. Raises :class:`NotANumber` where it is no length to show."""
    compact = re.sub(r"[\s\u00a0\u202f]", "", text).replace("\u2212", "-")
    if len(compact) > LONGEST:
        raise NotANumber(f"This is too long for a number. Enter at most {LONGEST} characters.")
    return compact


def parse_row(text: str) -> int | None:
    """The number of a row from an address or a hidden field; ``None`` for what can be none.

    >>> parse_row("12"), parse_row("-1"), parse_row("9" * 30)
    (12, None, None)
    """
    return int(text) if text.isdecimal() and len(text) <= _ROW_DIGITS else None


def show_number(value: float, *, significant: int = 4) -> str:
    """A number for a person, in the style in force: no needless digits, no exponent.

    >>> show_number(2.0400001)
    '2.04'
    """
    if value == 0:
        return "0"
    digits = max(0, significant - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{digits}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else signed(text)

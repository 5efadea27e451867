"""What a scanner, a camera or a person hands over, read as GS1 element strings.

After the GS1 General Specifications, whose rules were read in GS1's Barcode Syntax Dictionary.
Rules that matter: a value of predefined length ends by itself, every other one at a separator
(FNC1, which arrives as the character GS) or at the end. A code with one wrong field is refused
whole, so that nothing of it is filled in.
"""

import calendar
import dataclasses
import re
from collections.abc import Iterator
from datetime import date
from urllib.parse import parse_qsl, unquote

from brewhygiene.quantities.codes.dates import day_of
from brewhygiene.quantities.codes.identifiers import IDENTIFIERS, PREDEFINED, identifier_at
from brewhygiene.quantities.codes.numbers import (
    check_digit,
    has_check_digit,
    is_gtin,
    is_number,
    whole_gtin,
)

SEPARATOR = "\x1d"
# What a scanner may put before the text, to say what kind of code it read.
KIND_OF_CODE = re.compile(r"\][A-Za-z][0-9A-Za-z]")
OF_ELEMENTS = frozenset({"]C1", "]e0", "]d2", "]Q3", "]J1"})
OF_GTIN = frozenset({"]E0", "]E4"})
IN_BRACKETS = re.compile(r"\(([0-9]{2,4})\)")
BEGINS_WITH_GTIN = re.compile(r"0[123][0-9]{14}")
# The path of a link from its product's number on.
OF_LINK = re.compile(r"https?://[^/?#]+(?:/[^?#]*?)?/(01/[0-9]{8,14}(?:/[^?#]*)?)", re.IGNORECASE)
LONGEST_CODE = 600
# Of the two dates that end the use of a product, which is asked for first.
EXPIRIES = ("17", "7003", "15", "16")
DATES_IN_LOTS = ("11", "13", "15", "17")
# No package bears a date further from today.
YEARS_OF_USE = 10


class Unreadable(ValueError):
    """Why a code is refused, in words for whoever scanned it."""

    def __init__(self, words: str, *, about: str = "") -> None:
        super().__init__(words)
        self.words, self.about = words, about


@dataclasses.dataclass(frozen=True)
class Code:
    """What a code says, by identifier; ``days`` are its dates."""

    values: dict[str, str]
    days: dict[str, date]

    @property
    def gtin(self) -> str:
        """The product's number in 14 digits, or ''."""
        return self.values.get("01") or self.values.get("02") or ""

    @property
    def lot(self) -> str:
        return self.values.get("10", "")

    @property
    def expires_on(self) -> date | None:
        """The last day of use: the expiry date, else the best before or the sell by date."""
        return next((self.days[kind] for kind in EXPIRIES if kind in self.days), None)

    def doubt(self, *, year: int) -> str:
        """Why the lot may have swallowed the field behind it, or ''.

        Many scanners drop the separator; a lot without an end then runs on over a date.
        """
        lot, kind, digits = self.lot[:-8], self.lot[-8:-6], self.lot[-6:]
        if not lot or kind not in DATES_IN_LOTS or not is_number(digits):
            return ""
        try:
            day = day_of(digits, year=year)
        except ValueError:
            return ""
        if abs(day.year - year) <= YEARS_OF_USE:
            return (
                f"The scanner may have joined two fields: {self.lot} could be lot {lot} with the "
                f"{IDENTIFIERS[kind].name} {day_in_words(day)}. Compare the lot with the package."
            )
        return ""


def day_in_words(day: date) -> str:
    """
    >>> day_in_words(date(2027, 12, 31))
    '31 December 2027'
    """
    return f"{day.day} {calendar.month_name[day.month]} {day.year}"


def looks_like_code(text: str) -> bool:
    """Whether a text is a code of fields rather than a lot or a name that somebody typed.

    A bare number of 8 or 13 digits may be either, so it is none here.
    """
    text = text.strip(" \t\r\n")
    if text[:3] in OF_ELEMENTS or text[:1] == SEPARATOR:
        return True
    brackets = IN_BRACKETS.match(text)
    if brackets is not None:
        return brackets[1] in IDENTIFIERS
    if not BEGINS_WITH_GTIN.match(text):
        return _is_link(text)
    # Up to 20 characters may be a lot; then the check digit tells.
    return has_check_digit(text[2:16]) or len(text) > IDENTIFIERS["10"].longest


def read_code(text: str, *, year: int) -> Code:
    """Read what was scanned or typed; dates are of the century nearest to ``year``.

    Raises :class:`Unreadable`, also for a text that is no GS1 code at all.
    """
    text = text.strip(" \t\r\n")
    if len(text) > LONGEST_CODE:
        raise Unreadable("This is longer than a barcode can be.", about="length")
    kind = KIND_OF_CODE.match(text)
    if kind is not None:
        text = text[3:]
        if kind[0] in OF_GTIN:
            return _bare_gtin(text)
        if kind[0] not in OF_ELEMENTS:
            raise Unreadable("This barcode has a text of its own, not product data.", about="kind")
    elif is_number(text) and len(text) <= 14:
        return _bare_gtin(text)
    elif _is_link(text):
        return _read(_link_fields(text), year=year)
    elif IN_BRACKETS.match(text):
        return _read(_bracketed(text), year=year)
    return _read(_fields(text), year=year)


def plain_text(text: str) -> str:
    """A text without what the scanner put before it to name the kind of code."""
    text = text.strip(" \t\r\n")
    return text[3:] if KIND_OF_CODE.match(text) else text


def _bare_gtin(digits: str) -> Code:
    if not is_number(digits) or len(digits) not in (8, 12, 13, 14):
        raise Unreadable("A product number has 8, 12, 13 or 14 digits.", about="length of AI 01")
    if not is_gtin(digits):
        raise Unreadable(_wrong_digit(digits, "product number"), about="check digit of AI 01")
    return Code({"01": whole_gtin(digits)}, {})


def _wrong_digit(digits: str, name: str) -> str:
    return (
        f"The check digit of the {name} {digits} is wrong: it should be "
        f"{check_digit(digits[:-1])}. Scan again."
    )


def _fields(text: str) -> Iterator[tuple[str, str]]:
    """The fields of an element string as it is in the code, one after the other."""
    rest = text.lstrip(SEPARATOR)
    if not rest:
        raise Unreadable("This barcode is empty.", about="empty")
    while rest:
        number = identifier_at(rest)
        if not number:
            raise Unreadable(
                f"The barcode has a field that is not known here: {rest[:4]}.", about="unknown AI"
            )
        length = PREDEFINED.get(number[:2])
        if length is not None:
            value, rest = rest[len(number) : length], rest[length:]
            if SEPARATOR in value:
                raise _cut_short(number)
            yield number, value
            # A separator here is superfluous, and tolerated.
            rest = rest.removeprefix(SEPARATOR)
        else:
            value, _, rest = rest[len(number) :].partition(SEPARATOR)
            yield number, value


def _bracketed(text: str) -> Iterator[tuple[str, str]]:
    """The fields of the line that is printed below a code, identifiers in brackets.

    A bracket may stand in a lot as well: only one around an identifier that exists begins a field.
    """
    starts = [found for found in IN_BRACKETS.finditer(text) if found[1] in IDENTIFIERS]
    if not starts or starts[0].start():
        raise Unreadable(
            f"The barcode has a field that is not known here: {text[:6]}.", about="unknown AI"
        )
    ends = [found.start() for found in starts[1:]] + [len(text)]
    for found, end in zip(starts, ends, strict=True):
        yield found[1], text[found.end() : end].strip().rstrip(SEPARATOR)


def _is_link(text: str) -> bool:
    return OF_LINK.match(text) is not None


def _link_fields(text: str) -> Iterator[tuple[str, str]]:
    """The fields of a GS1 Digital Link: pairs of the path from the product's on, then the query."""
    found = OF_LINK.match(text)
    assert found is not None
    path = found[1].strip("/").split("/")
    for number, value in zip(path[::2], path[1::2], strict=False):
        yield number, whole_gtin(value) if number == "01" else unquote(value)
    for number, value in parse_qsl(text.partition("?")[2].partition("#")[0]):
        # Other words of a query are the web site's own.
        if number in IDENTIFIERS:
            yield number, value


def _cut_short(number: str) -> Unreadable:
    return Unreadable(
        f"The {IDENTIFIERS[number].name} in the barcode is cut short. Scan again.",
        about=f"length of AI {number}",
    )


def _read(fields: Iterator[tuple[str, str]], *, year: int) -> Code:
    values: dict[str, str] = {}
    days: dict[str, date] = {}
    for number, value in fields:
        if number not in IDENTIFIERS:
            raise Unreadable(
                f"The barcode has a field that is not known here: {number}.", about="unknown AI"
            )
        if values.setdefault(number, value) != value:
            raise Unreadable(
                f"The barcode says two values for the {IDENTIFIERS[number].name}.",
                about=f"repeated AI {number}",
            )
        _check(number, value)
        if IDENTIFIERS[number].is_date:
            try:
                days[number] = day_of(value[:6], year=year)
            except ValueError as error:
                raise Unreadable(
                    f"The {IDENTIFIERS[number].name} in the barcode is no day of the calendar: "
                    f"{value}.",
                    about=f"day in AI {number}",
                ) from error
    return Code(values, days)


def _check(number: str, value: str) -> None:
    """Raises where a value is not as its identifier has it."""
    field = IDENTIFIERS[number]
    if len(value) < field.shortest:
        raise _cut_short(number)
    if len(value) > field.longest:
        raise Unreadable(
            f"The {field.name} in the barcode is too long: {value}. It has at most "
            f"{field.longest} characters.",
            about=f"length of AI {number}",
        )
    if not field.fits(value):
        raise Unreadable(
            f"The {field.name} in the barcode has a character that cannot stand there.",
            about=f"characters of AI {number}",
        )
    if field.checked and not has_check_digit(value):
        raise Unreadable(_wrong_digit(value, field.name), about=f"check digit of AI {number}")

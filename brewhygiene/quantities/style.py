"""How numbers and moments are written for whoever looks: decimal sign, order of a date, clock.

The style in force belongs to the request that is answered. What is recorded never depends on it:
within an action, and in everything that is stored, hashed or read by machines, it is ``PLAIN``.
"""

import dataclasses
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime

DECIMALS = {".": "Point: 2.5", ",": "Comma: 2,5"}
DATES = {
    "day_first": "17 Jun 2026, 14:05",
    "month_first": "Jun 17, 2026, 2:05 PM",
    "iso": "2026-06-17 14:05",
}
# Groups of thousands beside a decimal comma: a space is read back, a point would be a decimal sign.
THIN_SPACE = "\u202f"


@dataclasses.dataclass(frozen=True)
class Style:
    """One way of writing: a key of ``DECIMALS`` and one of ``DATES``."""

    decimal: str = "."
    dates: str = "day_first"

    @classmethod
    def chosen(cls, decimal: str, dates: str, *, usual: "Style | None" = None) -> "Style":
        """The style of two choices; one that is blank is the usual one's.

        >>> Style.chosen(",", "", usual=Style(".", "iso"))
        Style(decimal=',', dates='iso')
        """
        usual = usual or PLAIN
        return cls(decimal or usual.decimal, dates or usual.dates)


PLAIN = Style()
_in_force: ContextVar[Style] = ContextVar("style", default=PLAIN)
# Whom a refusal is said to, while the plain style is in force for what is written.
_person: ContextVar[Style] = ContextVar("person's style", default=PLAIN)


def style() -> Style:
    """The style in force."""
    return _in_force.get()


@contextmanager
def written_in(chosen: Style) -> Iterator[None]:
    """Everything within is written in ``chosen``, whatever was in force before."""
    token = _in_force.set(chosen)
    try:
        yield
    finally:
        _in_force.reset(token)


@contextmanager
def shown_to(chosen: Style) -> Iterator[None]:
    """As :func:`written_in`, for a person who looks: :func:`told` says no in it, too."""
    token = _person.set(chosen)
    try:
        with written_in(chosen):
            yield
    finally:
        _person.reset(token)


@contextmanager
def told() -> Iterator[None]:
    """Within an action, the words of a refusal are the person's, for nothing is written."""
    with written_in(_person.get()):
        yield


def signed(text: str) -> str:
    """Digits as the machine writes them, with the decimal sign in force.

    >>> with written_in(Style(",")): signed("12,345.6")
    '12\\u202f345,6'
    """
    if style().decimal == ".":
        return text
    return text.replace(",", THIN_SPACE).replace(".", ",")


def digits(value: float, form: str) -> str:
    """A number by a format of Python's, with the decimal sign in force.

    >>> digits(2.25, ".2f")
    '2.25'
    """
    return signed(format(value, form))


# A figure of a sentence: no address, version, section of a handbook or title of a code.
_FIGURE = re.compile(r"(?<![\d.])(?<!CFR )(\d+)\.(\d+)(?![\d.]*\d)")


def own_words(text: str) -> str:
    """A fixed sentence of ours with its figures in the style in force; never what was typed.

    >>> with written_in(Style(",")): own_words("Below 0.05, by e-Handbook 6.3.2.")
    'Below 0,05, by e-Handbook 6.3.2.'
    """
    return text if style().decimal == "." else _FIGURE.sub(rf"\1{style().decimal}\2", text)


# For each way in which we write a day: with the month first, and by ISO 8601. A day without its
# year has one there, for a bare 06-17 can be read two ways.
_DAYS = {
    "j M Y": ("M j, Y", "Y-m-d"),
    "d M Y": ("M j, Y", "Y-m-d"),
    "d.m.Y": ("m/d/Y", "Y-m-d"),
    "j F Y": ("F j, Y", "Y-m-d"),
    "d F Y": ("F j, Y", "Y-m-d"),
    "D j M Y": ("D, M j, Y", "D Y-m-d"),
    "D j M": ("D, M j", "D Y-m-d"),
    "D d F": ("D, F j", "D Y-m-d"),
    "l j F": ("l, F j", "l Y-m-d"),
    "l d F": ("l, F j", "l Y-m-d"),
    "j M": ("M j", "Y-m-d"),
    "j F": ("F j", "Y-m-d"),
    "M Y": ("M Y", "Y-m"),
    "F Y": ("F Y", "Y-m"),
    "D": ("D", "D"),
}
_CLOCKS = {
    "H:i": ("g:i A", "H:i"),
    "H:i:s": ("g:i:s A", "H:i:s"),
    "H:i:s T": ("g:i:s A T", "H:i:s T"),
}
# Between a day and the time on it.
_BETWEEN = (", ", " ")


def _forms() -> dict[str, tuple[str, str]]:
    found = {**_DAYS, **_CLOCKS}
    for day, days in _DAYS.items():
        for clock, clocks in _CLOCKS.items():
            # A weekday alone stands close to its time in every style.
            both = (" ", " ") if day == "D" else _BETWEEN
            form = tuple(d + b + c for d, b, c in zip(days, both, clocks, strict=True))
            for between in (", ", " "):
                found[day + between + clock] = (form[0], form[1])
    return found


FORMS = _forms()


def moment_form(form: str) -> str:
    """The format, in the letters of Django's, that stands for ``form`` in the style in force.

    One that is in no table is for machines, and stays.

    >>> with written_in(Style(dates="month_first")): moment_form("D j M, H:i")
    'D, M j, g:i A'
    """
    dates = style().dates
    if dates == "day_first" or form not in FORMS:
        return form
    return FORMS[form][dates == "iso"]


_LETTERS = {
    "j": "{0.day}",
    "d": "{0:%d}",
    "D": "{0:%a}",
    "l": "{0:%A}",
    "m": "{0:%m}",
    "M": "{0:%b}",
    "F": "{0:%B}",
    "Y": "{0.year}",
    "H": "{0:%H}",
    "i": "{0:%M}",
    "s": "{0:%S}",
    "A": "{0:%p}",
    "T": "{0:%Z}",
}


def shown_moment(moment: date | datetime, form: str) -> str:
    """A day or a local moment, by a format of ``FORMS``, in the style in force.

    >>> shown_moment(datetime(2026, 6, 7, 14, 5), "j M Y, H:i")
    '7 Jun 2026, 14:05'
    """
    if form not in FORMS:
        raise KeyError(form)
    words = []
    for letter in moment_form(form):
        if letter == "g":
            assert isinstance(moment, datetime)
            words.append(str((moment.hour + 11) % 12 + 1))
        else:
            words.append(_LETTERS.get(letter, letter).format(moment))
    return "".join(words)

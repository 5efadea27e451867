"""Shares, counts, hours and days in words: one way on every page and in every report."""

from collections.abc import Sequence
from datetime import date, datetime, tzinfo

from django.utils import timezone

from brewhygiene.quantities.parsing import show_number


def percent(share: float) -> str:
    """A share in whole per cent; never 0 or 100 for what is neither.

    >>> percent(0.5), percent(1), percent(0.996), percent(0.9999), percent(0.0001)
    ('50 %', '100 %', '99.6 %', 'above 99.9 %', 'below 0.1 %')
    """
    whole = round(share * 100)
    if whole not in (0, 100) or share in (0, 1):
        return f"{whole} %"
    tenths = f"{share * 100:.1f} %"
    return {"0.0 %": "below 0.1 %", "100.0 %": "above 99.9 %"}.get(tenths, tenths)


def percent_range(low: float, high: float) -> str:
    return f"{percent(low)} to {percent(high)}"


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> counted(1, "plate"), counted(0, "plate"), counted(2, "boss", "bosses")
    ('1 plate', 'no plate', '2 bosses')
    """
    if number == 0:
        return f"no {one}"
    return f"{number} {one if number == 1 else many or one + 's'}"


def capital(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


def hours_words(hours: float) -> str:
    """Hours as a person says them.

    >>> hours_words(0.5), hours_words(7.26), hours_words(50)
    ('30 min', '7.3 h', '50 h')
    """
    if hours < 1:
        return f"{round(hours * 60)} min"
    return f"{show_number(hours, significant=2 if hours < 100 else 3)} h"


def day_words(moment: datetime, zone: tzinfo | None = None) -> str:
    """The day of a moment, in ``zone`` or the active time zone, as on an axis: 3 Mar 2026."""
    local = timezone.localtime(moment, zone)
    return f"{local.day} {local:%b %Y}"


def long_day_words(day: date) -> str:
    """A day within a sentence: 3 March 2026."""
    return f"{day.day} {day:%B %Y}"


def listed(words: Sequence[str]) -> str:
    """Words in a row.

    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))

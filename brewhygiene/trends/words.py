"""Days and rows of words, the same on every chart and in every report."""

from collections.abc import Sequence
from datetime import date, datetime, tzinfo

from django.utils import timezone

from brewhygiene.quantities.style import shown_moment


def day_words(moment: datetime, zone: tzinfo | None = None) -> str:
    """The day of a moment, in ``zone`` or the active time zone, as on an axis: 3 Mar 2026."""
    local = timezone.localtime(moment, zone)
    return f"{shown_moment(local, 'j M Y')}"


def long_day_words(day: date) -> str:
    """A day within a sentence: 3 March 2026."""
    return f"{shown_moment(day, 'j F Y')}"


def listed(words: Sequence[str]) -> str:
    """Words in a row.

    >>> listed(["a"]), listed(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))

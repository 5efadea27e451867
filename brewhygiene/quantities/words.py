"""Shares, counts and spans of time as people say them: one way for every page."""

from datetime import timedelta

from brewhygiene.quantities.parsing import show_number

# Said wherever something is shown that nobody recorded here as it happened.
BEFORE_RECORD = "before this record began"


def _whole_percent(share: float) -> str:
    whole = round(100 * share)
    if whole <= 0 and share > 0:
        return "below 1"
    if whole >= 100 and share < 1:
        return "above 99"
    return f"{whole}"


def percent(share: float) -> str:
    """A share of 1 in whole per cent; 0 and 100 are said only of exactly none and all.

    >>> percent(0.996), percent(0.5), percent(0.004), percent(1)
    ('above 99 %', '50 %', 'below 1 %', '100 %')
    """
    return f"{_whole_percent(share)} %"


def percent_range(low: float, high: float) -> str:
    """Two shares of 1 as a range in whole per cent, by the same rule.

    >>> percent_range(0.61, 0.832), percent_range(0, 0.996)
    ('61 to 83 %', '0 to above 99 %')
    """
    return f"{_whole_percent(low)} to {_whole_percent(high)} %"


def percent_with_interval(share: float, low: float, high: float) -> str:
    """A share of 1 with its 95 % interval.

    >>> percent_with_interval(0.72, 0.61, 0.832)
    '72 % (95 % interval 61 to 83 %)'
    """
    return f"{percent(share)} (95 % interval {percent_range(low, high)})"


def one_or_many(number: float, one: str, many: str = "") -> str:
    """The word that goes with a number, a noun or a verb.

    >>> one_or_many(1, "is", "are"), one_or_many(0, "plate"), one_or_many(2, "box", "boxes")
    ('is', 'plates', 'boxes')
    """
    return one if number == 1 else many or f"{one}s"


def counted(number: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> counted(1, "plate"), counted(0, "plate"), counted(2, "box", "boxes")
    ('1 plate', '0 plates', '2 boxes')
    """
    return f"{number} {one_or_many(number, one, many)}"


def how_many(number: int, one: str, many: str = "") -> str:
    """As :func:`counted`, in a sentence: none is "no plate".

    >>> how_many(1, "plate"), how_many(0, "plate"), how_many(2, "plate")
    ('1 plate', 'no plate', '2 plates')
    """
    return counted(number, one, many) if number else f"no {one}"


def capital(sentence: str) -> str:
    """A sentence with a capital letter at its beginning."""
    return sentence[:1].upper() + sentence[1:]


def hours_words(hours: float) -> str:
    """Hours with two or three digits; minutes below one hour.

    >>> hours_words(0.5), hours_words(7.26), hours_words(50)
    ('30 min', '7.3 h', '50 h')
    """
    if hours < 1:
        return f"{round(hours * 60)} min"
    return f"{show_number(hours, significant=2 if hours < 100 else 3)} h"


def minutes_words(minutes: float) -> str:
    """Whole minutes, with hours from one hour on.

    >>> minutes_words(59.6), minutes_words(150), minutes_words(5)
    ('1 h', '2 h 30 min', '5 min')
    """
    whole = round(minutes)
    if whole < 60:
        return f"{whole} min"
    return f"{whole // 60} h {whole % 60} min" if whole % 60 else f"{whole // 60} h"


def span_words(span: timedelta) -> str:
    """A span, of either sign, in its two largest units; what is left over is dropped.

    >>> span_words(timedelta(hours=28, minutes=59)), span_words(timedelta(minutes=-35))
    ('1 d 4 h', '35 min')
    """
    minutes = int(abs(span).total_seconds() // 60)
    days, hours = minutes // 1440, minutes // 60 % 24
    if days:
        return f"{days} d {hours} h" if hours else f"{days} d"
    if hours:
        return f"{hours} h {minutes % 60} min" if minutes % 60 else f"{hours} h"
    return f"{minutes} min"

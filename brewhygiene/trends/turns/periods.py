"""The time that figures are of: so many days up to now, or a month of the calendar."""

import dataclasses
import re
from datetime import date, datetime, time, timedelta, tzinfo

from django.utils import timezone

MONTH_NAMES = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip
DAYS = {"30": "the last 30 days", "90": "the last 90 days", "365": "the last 12 months"}
USUAL = "90"
_MONTH = re.compile(r"([0-9]{4})-([0-9]{2})")


class NoSuchPeriod(ValueError):
    """What was asked for is no period; the message says so in plain words."""


@dataclasses.dataclass(frozen=True)
class Period:
    """From ``since`` to before ``until``; ``code`` is how an address asks for it."""

    code: str
    words: str
    since: datetime
    until: datetime

    @property
    def before(self) -> "Period":
        """The stretch of the same length just before; of a month, the month before."""
        if not _MONTH.fullmatch(self.code):
            since = self.since - (self.until - self.since)
            return Period(self.code, f"the {self.words[9:]} before", since, self.since)
        day = self.since.date() - timedelta(days=1)
        return month_of(day.year, day.month, self.since.tzinfo or timezone.get_current_timezone())


def month_of(year: int, month: int, zone: tzinfo) -> Period:
    """A month by the brewery's calendar."""
    after = date(year + month // 12, month % 12 + 1, 1)
    return Period(
        code=f"{year:04}-{month:02}",
        words=f"{MONTH_NAMES[month - 1]} {year}",
        since=datetime.combine(date(year, month, 1), time(), zone),
        until=datetime.combine(after, time(), zone),
    )


def month_asked(text: str, *, now: datetime) -> Period:
    """The month that an address names, as ``2026-03``.

    Raises :class:`NoSuchPeriod` for what is no month, and for one that has not begun.
    """
    found = _MONTH.fullmatch(text)
    year, month = (int(found[1]), int(found[2])) if found else (0, 0)
    if not 1 <= month <= 12 or not 1970 <= year <= 9998:
        raise NoSuchPeriod(f"“{text}” is not a month. Write it as e.g. {now:%Y-%m}.")
    period = month_of(year, month, timezone.get_current_timezone())
    if period.since > now:
        raise NoSuchPeriod(f"{period.words} has not started.")
    return period


def period_asked(text: str, *, now: datetime) -> Period:
    """The period that an address asks for: days up to now, or a month; the usual one for none."""
    text = text or USUAL
    if text in DAYS:
        return Period(text, DAYS[text], now - timedelta(days=int(text)), now)
    return month_asked(text, now=now)


def months_until(now: datetime, count: int) -> list[Period]:
    """So many months up to the present one, the oldest first."""
    zone = timezone.get_current_timezone()
    here = now.astimezone(zone)
    last = here.year * 12 + here.month - 1
    return [month_of(n // 12, n % 12 + 1, zone) for n in range(last - count + 1, last + 1)]

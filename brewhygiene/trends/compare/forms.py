"""The period over which turnarounds are compared."""

import calendar
import dataclasses
from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from brewhygiene.quantities.days import DayField
from brewhygiene.trends.words import long_day_words

MONTHS = {"3": "3 months", "6": "6 months", "12": "12 months"}
USUAL = "12"
LONGEST_DAYS = 3 * 366


def months_before(day: date, months: int) -> date:
    """The same day so many months earlier, or the last of a shorter month."""
    number = day.year * 12 + day.month - 1 - months
    year, month = number // 12, number % 12 + 1
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


@dataclasses.dataclass(frozen=True)
class Span:
    """From the day ``first`` to the day ``last``, both of them in it; ``asked`` as an address."""

    first: date
    last: date
    words: str
    asked: str

    @property
    def since(self) -> datetime:
        return _midnight(self.first)

    @property
    def until(self) -> datetime:
        return _midnight(self.last + timedelta(days=1))


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))


class SpanForm(forms.Form):
    """From one day to another; with neither, the last so many months."""

    first = DayField(label="From", required=False)
    last = DayField(label="To", required=False)

    def __init__(self, asked: Any, *, today: date, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(asked, **kwargs)
        self._today = today
        self._months = asked.get("months") or USUAL

    @property
    def by_months(self) -> str:
        """The months asked for, or '' where days are."""
        return "" if self.data.get("first") or self.data.get("last") else self._months

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = self.cleaned_data
        if self.by_months:
            if self._months not in MONTHS:
                self.add_error(None, "Choose 3, 6 or 12 months, or enter two days.")
            return cleaned
        for name in ("first", "last"):
            if name not in self.errors and cleaned.get(name) is None:
                self.add_error(name, "Enter both days.")
        first, last = cleaned.get("first"), cleaned.get("last")
        if first is None or last is None:
            return cleaned
        if last < first:
            self.add_error("last", f"Enter a day after the first day, {long_day_words(first)}.")
        elif first > self._today:
            self.add_error("first", "Enter a day that is not in the future.")
        elif (last - first).days > LONGEST_DAYS:
            self.add_error("first", "Choose at most three years.")
        return cleaned

    def span(self) -> Span:
        """What was asked for; the form is valid."""
        if months := self.by_months:
            return Span(
                first=months_before(self._today, int(months)) + timedelta(days=1),
                last=self._today,
                words=f"the last {MONTHS[months]}",
                asked=f"months={months}",
            )
        first, last = self.cleaned_data["first"], min(self.cleaned_data["last"], self._today)
        return Span(
            first=first,
            last=last,
            words=f"{long_day_words(first)} to {long_day_words(last)}",
            asked=f"first={first:%Y-%m-%d}&last={last:%Y-%m-%d}",
        )

"""The ways in which loggers write a time, and seconds from them."""

from typing import TYPE_CHECKING

import numpy as np

from brewhygiene.science.logger.problems import LoggerFileUnreadable

if TYPE_CHECKING:
    import polars as pl

    from brewhygiene.science.errors import FloatArray

ELAPSED_S = "elapsed s"
ELAPSED_MIN = "elapsed min"
EPOCH_S = "epoch s"
EPOCH_MS = "epoch ms"
CLOCK = "clock"

_NUMERIC = {ELAPSED_S: 1.0, ELAPSED_MIN: 60.0, EPOCH_S: 1.0, EPOCH_MS: 0.001}
_DATES = {
    "%Y-%m-%d": "year-month-day",
    "%Y/%m/%d": "year/month/day",
    "%Y.%m.%d": "year.month.day",
    "%d.%m.%Y": "day.month.year",
    "%d/%m/%Y": "day/month/year",
    "%m/%d/%Y": "month/day/year",
    "%d-%m-%Y": "day-month-year",
    "%m-%d-%Y": "month-day-year",
    "%d.%m.%y": "day.month.year, two digits",
    "%d/%m/%y": "day/month/year, two digits",
    "%m/%d/%y": "month/day/year, two digits",
}
_CLOCKS = {
    "%H:%M:%S%.f": "hours:minutes:seconds",
    "%H:%M": "hours:minutes",
    "%I:%M:%S %p": "12-hour clock with seconds",
    "%I:%M %p": "12-hour clock",
}
_ZONE = "%z"

# Form to what a person calls it. A form is one of the words above or a pattern of polars.
FORMS: dict[str, str] = {
    **{
        f"{date}{between}{clock}": f"{date_label}, {clock_label}"
        for date, date_label in _DATES.items()
        for clock, clock_label in _CLOCKS.items()
        for between in (" ", ", ")
    },
    **{
        f"%Y-%m-%dT{clock}": f"year-month-dayT{label}"
        for clock, label in _CLOCKS.items()
        if "%p" not in clock
    },
    **{
        f"%Y-%m-%d{between}{clock}{_ZONE}": f"year-month-day, {label}, with offset from UTC"
        for between in ("T", " ")
        for clock, label in _CLOCKS.items()
        if "%p" not in clock
    },
    EPOCH_S: "seconds since 1970, UTC",
    EPOCH_MS: "milliseconds since 1970, UTC",
    ELAPSED_S: "seconds since the start",
    ELAPSED_MIN: "minutes since the start",
    CLOCK: "time of day or stopwatch, hours:minutes:seconds, without a date",
}
# A year of two digits read as a year of four lands far in the past: no logger is that old.
_EARLIEST_S = 0.0
_LATEST_S = 7_258_118_400.0  # the year 2200
HALF_DAY_S = 43_200.0
DAY_S = 86_400.0


def has_date(form: str) -> bool:
    """Whether times of ``form`` are moments, not only times since a start."""
    return form not in (ELAPSED_S, ELAPSED_MIN, CLOCK)


def has_zone(form: str) -> bool:
    """Whether times of ``form`` say their own offset from UTC (else it is the logger's clock)."""
    return form.endswith(_ZONE) or form in (EPOCH_S, EPOCH_MS)


def check_form(form: str) -> None:
    """Raise :class:`LoggerFileUnreadable` for a form that is not in ``FORMS``."""
    if form not in FORMS:
        raise LoggerFileUnreadable(f"“{form}” is not a known time format.", field="time_form")


def parse_times(texts: "pl.Series", form: str, decimal: str = ".") -> "FloatArray":
    """Seconds from ``texts`` (a string series, nulls allowed) written in ``form``.

    Since 1970 for moments (a logger's own clock as if it were UTC), else since its zero. NaN
    for a null and for what is no such time.
    """
    import polars as pl  # a tenth of a second to import, and only traces need it

    if form in _NUMERIC:
        numbers = texts.str.strip_chars()
        if decimal == ",":
            numbers = numbers.str.replace(",", ".", literal=True)
        found = numbers.cast(pl.Float64, strict=False).to_numpy() * _NUMERIC[form]
        return _within(found) if has_date(form) else np.where(np.isfinite(found), found, np.nan)
    if form == CLOCK:
        return _clock_s(texts.str.strip_chars())
    texts = texts.str.strip_chars()
    if form.endswith(_ZONE):
        texts = texts.str.replace("Z$", "+00:00")
    # Whole seconds, which most loggers write, are read four times as fast without a fraction.
    moments = texts.str.to_datetime(form.replace("%.f", ""), strict=False, time_unit="us")
    if "%.f" in form and moments.null_count() > texts.null_count():
        moments = texts.str.to_datetime(form, strict=False, time_unit="us")
    return _within(moments.dt.epoch("us").cast(pl.Float64).to_numpy() / 1e6)


def _within(seconds: "FloatArray") -> "FloatArray":
    known = (seconds >= _EARLIEST_S) & (seconds < _LATEST_S)
    return np.where(known, seconds, np.nan)


def _clock_s(texts: "pl.Series") -> "FloatArray":
    import polars as pl

    parts = texts.str.extract_groups(
        r"^(?<h>\d{1,4}):(?<m>[0-5]?\d)(?::(?<s>[0-5]?\d(?:[.,]\d+)?))?$"
    ).struct.unnest()
    hours, minutes = (parts[name].cast(pl.Float64, strict=False) for name in ("h", "m"))
    seconds = parts["s"].str.replace(",", ".", literal=True).cast(pl.Float64, strict=False)
    total = hours * 3600 + minutes * 60 + seconds.fill_null(0.0)
    return total.to_numpy()


def unwrap_clock(raw_s: "FloatArray", last_raw_s: float, days: int) -> tuple["FloatArray", int]:
    """Times of a clock without a date, made to go on over midnight.

    ``raw_s`` seconds as written, after ``last_raw_s`` (NaN at the start), ``days`` midnights
    passed so far. A step back of more than half a day is a midnight; a smaller one is left as a
    step back. Returns the seconds and the midnights passed.
    """
    before = np.concatenate(([last_raw_s], raw_s[:-1]))
    with np.errstate(invalid="ignore"):
        midnights = days + np.cumsum(raw_s - before < -HALF_DAY_S)
    return raw_s + midnights * DAY_S, int(midnights[-1]) if midnights.size else days


def possible_forms(texts: list[str], decimal: str = ".") -> list[str]:
    """Forms of ``FORMS`` in which every one of ``texts`` is a time, most telling first."""
    import polars as pl

    series = pl.Series(texts, dtype=pl.String)
    found = []
    for form in FORMS:
        if form in _NUMERIC:
            continue
        if not np.isnan(parse_times(series, form)).any():
            found.append(form)
    if found or not texts:
        return found
    return _possible_numeric(parse_times(series, ELAPSED_S, decimal))


def _possible_numeric(numbers: "FloatArray") -> list[str]:
    if np.isnan(numbers).any():
        return []
    # 1e9 s since 1970 is 2001 and 1e10 s is 2286: between them only seconds, above milliseconds.
    if ((numbers >= 1e9) & (numbers < _LATEST_S)).all():
        return [EPOCH_S]
    if ((numbers >= 1e12) & (numbers < _LATEST_S * 1000)).all():
        return [EPOCH_MS]
    if (numbers >= 0).all() and (np.diff(numbers) >= 0).all():
        return [ELAPSED_S, ELAPSED_MIN]
    return []

"""Which column of a logger file is what: proposed once, saved, and used again."""

import dataclasses
import re
from collections.abc import Mapping as JsonObject
from typing import TYPE_CHECKING, Any

import numpy as np

from brewhygiene.science.logger.dialect import USUAL_MISSING, Dialect, looks_missing
from brewhygiene.science.logger.problems import LoggerFileUnreadable
from brewhygiene.science.logger.times import (
    CLOCK,
    check_form,
    has_date,
    parse_times,
    possible_forms,
)
from brewhygiene.science.logger.units import QUANTITIES

if TYPE_CHECKING:
    from brewhygiene.science.errors import FloatArray


@dataclasses.dataclass(frozen=True)
class MappedColumn:
    """One quantity (a key of ``QUANTITIES``), its column's name, and the unit it is written in."""

    quantity: str
    column: str
    unit: str


@dataclasses.dataclass(frozen=True)
class Mapping:
    """What the columns of a site's logger mean.

    ``time_columns`` are one, or a date's and a clock's; ``time_form`` a key of
    :data:`~brewhygiene.science.logger.times.FORMS`; ``decimal`` a point or a comma;
    ``missing`` the words that stand for no reading, of which an empty cell always is one.
    """

    time_columns: tuple[str, ...]
    time_form: str
    columns: tuple[MappedColumn, ...]
    decimal: str = "."
    missing: tuple[str, ...] = USUAL_MISSING

    def check(self, dialect: Dialect) -> None:
        """Raise :class:`LoggerFileUnreadable`, naming the field, where it does not fit a file."""
        if len(self.time_columns) not in (1, 2):
            raise LoggerFileUnreadable(
                "Choose the column of the time, or one of the date and one of the clock.",
                field="time_columns",
            )
        check_form(self.time_form)
        if self.decimal not in (".", ","):
            raise LoggerFileUnreadable(
                "Choose a point or a comma as the decimal sign.", field="decimal"
            )
        if self.decimal == dialect.separator and self.decimal == "," and dialect.decimal != ",":
            raise LoggerFileUnreadable(
                "The comma separates the cells of this file, so it cannot be the decimal sign too.",
                field="decimal",
            )
        if not self.columns:
            raise LoggerFileUnreadable("Choose at least one column to read.", field="columns")
        self._check_columns()
        for column in (*self.time_columns, *(mapped.column for mapped in self.columns)):
            dialect.index(column)

    def _check_columns(self) -> None:
        used: dict[str, str] = dict.fromkeys(self.time_columns, "the time")
        quantities: set[str] = set()
        for mapped in self.columns:
            quantity = QUANTITIES.get(mapped.quantity)
            if quantity is None:
                raise LoggerFileUnreadable(
                    f"“{mapped.quantity}” is not a known quantity. Choose one of "
                    f"{', '.join(QUANTITIES)}.",
                    field="columns",
                )
            if mapped.unit not in quantity.units:
                raise LoggerFileUnreadable(
                    f"“{mapped.unit}” is not a unit of {quantity.label}. Choose one of "
                    f"{', '.join(quantity.units)}.",
                    field=mapped.quantity,
                )
            if mapped.quantity in quantities:
                raise LoggerFileUnreadable(
                    f"Two columns are chosen as {quantity.label}. Choose one.",
                    field=mapped.quantity,
                )
            quantities.add(mapped.quantity)
            if mapped.column in used:
                raise LoggerFileUnreadable(
                    f"“{mapped.column}” is already {used[mapped.column]}, so it cannot be "
                    f"{quantity.label} too.",
                    field=mapped.quantity,
                )
            used[mapped.column] = quantity.label

    def as_json(self) -> dict[str, Any]:
        """Plain lists and words, for keeping."""
        return {
            "time_columns": list(self.time_columns),
            "time_form": self.time_form,
            "columns": [[mapped.quantity, mapped.column, mapped.unit] for mapped in self.columns],
            "decimal": self.decimal,
            "missing": list(self.missing),
        }


def from_json(kept: JsonObject[str, Any]) -> Mapping:
    """The mapping that :meth:`Mapping.as_json` made, or :class:`LoggerFileUnreadable`."""
    try:
        return Mapping(
            time_columns=tuple(str(name) for name in kept["time_columns"]),
            time_form=str(kept["time_form"]),
            columns=tuple(MappedColumn(*map(str, each)) for each in kept["columns"]),
            decimal=str(kept["decimal"]),
            missing=tuple(str(mark) for mark in kept["missing"]),
        )
    except (KeyError, TypeError, ValueError):
        raise LoggerFileUnreadable(
            "The saved mapping cannot be read. Map the columns again.", field="columns"
        ) from None


@dataclasses.dataclass(frozen=True)
class Proposal:
    """A mapping proposed from a file, and what a person should look at before using it."""

    mapping: Mapping
    doubts: tuple[str, ...]


# Words in a column's name, in English and German, that tell its quantity; first match wins.
_TELLS = (
    ("conductivity_ms_cm", r"cond|leitf|[mµμu]S/c?m|\bS/m|\bLF\b|\bEC\b"),
    ("flow_l_min", r"flow|durchfl|volumenstrom|[lL]/(min|h|s)\b|m[³3]/h|gpm"),
    ("ph", r"\bpH\b|\bpH[-_ ]"),
    ("pressure_bar", r"press|druck|\bm?bar\b|\bk?Pa\b|\bpsi"),
    ("velocity_m_s", r"veloc|geschwind|\bm/s|\bft/s"),
    ("concentration", r"conc|konz|strength"),
    ("temperature_c", r"temp|°|\bdeg ?[CF]\b|grad"),
)
_PREFERRED = re.compile(r"return|rück|rueck|outlet|ablauf|\bout\b|drain", re.IGNORECASE)
_TIME_TELL = re.compile(r"time|zeit|date|datum|stamp|elapsed|uhr|clock", re.IGNORECASE)
_TWELVE_HOURS = re.compile(r"\d{1,2}:\d\d(:\d\d)? ?[AP]M", re.IGNORECASE)
_UNIT_TELLS = {
    "temperature_c": (("°F", r"°\s*F|deg ?F|\(F\)|\[F\]|fahr"), ("K", r"\(K\)|\[K\]|kelvin"),
                      ("°C", r"°\s*C|deg ?C|\(C\)|\[C\]|cels|^C$")),
    "flow_l_min": (("L/min", r"l/min"), ("hL/h", r"hl/h"), ("L/h", r"l/h"), ("L/s", r"l/s"),
                   ("m³/h", r"m[³3]/h"), ("gpm", r"gpm|gal")),
    "conductivity_ms_cm": (("mS/cm", r"mS/cm"), ("µS/cm", r"[µμu]S/cm"), ("mS/m", r"mS/m"),
                           ("S/m", r"S/m")),
    "ph": (("pH", r""),),
    "velocity_m_s": (("ft/s", r"ft/s"), ("m/s", r"m/s")),
    "pressure_bar": (("mbar", r"mbar"), ("kPa", r"kPa"), ("psi", r"psi"), ("Pa", r"\bPa\b"),
                     ("bar", r"bar")),
    "concentration": (("%", r"%"),),
}  # fmt: skip


def propose(dialect: Dialect) -> Proposal:
    """A mapping from the names, the units and the first rows of a file.

    Raises :class:`LoggerFileUnreadable` where no column can be a time or none a quantity.
    """
    doubts: list[str] = []
    time_columns, form = _propose_time(dialect, doubts)
    columns: dict[str, MappedColumn] = {}
    for place, name in enumerate(dialect.columns):
        if name in time_columns or not _has_numbers(dialect, place):
            continue
        words = f"{name} {dialect.units[place]}"
        quantity = _quantity_of(words)
        if quantity is None:
            continue
        found = MappedColumn(quantity, name, _unit_of(quantity, words, doubts, name))
        other = columns.get(quantity)
        if other is None:
            columns[quantity] = found
            continue
        kept, left = other, found
        if _PREFERRED.search(name) and not _PREFERRED.search(other.column):
            kept, left = found, other
        columns[quantity] = kept
        doubts.append(
            f"“{kept.column}” and “{left.column}” may both be {QUANTITIES[quantity].label}. "
            f"“{kept.column}” is used."
        )
    if not columns:
        doubts.append("No column was recognised by its name. Choose at least one.")
    return Proposal(
        mapping=Mapping(
            time_columns=time_columns,
            time_form=form,
            columns=tuple(columns.values()),
            decimal=dialect.decimal,
            missing=_missing_of(dialect),
        ),
        doubts=tuple(doubts),
    )


def _cells(dialect: Dialect, place: int) -> list[str]:
    return [row[place] for row in dialect.sample if not looks_missing(row[place])]


def _has_numbers(dialect: Dialect, place: int) -> bool:
    cells = _cells(dialect, place)
    numbers = sum(1 for cell in cells if _is_number(cell, dialect.decimal))
    return numbers * 2 >= len(cells)


def _is_number(cell: str, decimal: str) -> bool:
    try:
        float(cell.replace(",", ".") if decimal == "," else cell)
    except ValueError:
        return False
    return True


def _missing_of(dialect: Dialect) -> tuple[str, ...]:
    """The usual marks, and those of the sample's rows, as they are written there."""
    seen = {cell for row in dialect.sample for cell in row if looks_missing(cell)}
    return (*USUAL_MISSING, *sorted(seen - set(USUAL_MISSING)))


def _quantity_of(words: str) -> str | None:
    for quantity, tell in _TELLS:
        if re.search(tell, words, re.IGNORECASE):
            return quantity
    return None


def _unit_of(quantity: str, words: str, doubts: list[str], name: str) -> str:
    # Case tells mS/m from MS/m nowhere in this trade, but µS/cm from mS/cm by its first letter.
    for unit, tell in _UNIT_TELLS[quantity]:
        if re.search(tell, words, re.IGNORECASE):
            return unit
    unit = next(iter(QUANTITIES[quantity].units))
    doubts.append(f"“{name}” has no unit. {unit} is assumed.")
    return unit


def _propose_time(dialect: Dialect, doubts: list[str]) -> tuple[tuple[str, ...], str]:
    places = range(len(dialect.columns))
    # A name that tells comes first, then the order in the file.
    order = sorted(places, key=lambda place: not _TIME_TELL.search(dialect.columns[place]))
    clocks: list[int] = []
    numeric: tuple[int, list[str]] | None = None
    for place in order:
        cells = _cells(dialect, place)
        forms = possible_forms(cells, dialect.decimal) if cells else []
        if forms == [CLOCK] or (cells and all(_TWELVE_HOURS.fullmatch(cell) for cell in cells)):
            clocks.append(place)
            continue
        if forms and "%" in forms[0]:
            return (dialect.columns[place],), _choose_form(forms, cells, doubts)
        if forms and numeric is None and (has_date(forms[0]) or _may_be_elapsed(dialect, place)):
            numeric = place, forms
    for clock in clocks:
        for date in places:
            if date == clock:
                continue
            rows = [row for row in dialect.sample if not looks_missing(row[date])]
            both = [f"{row[date]} {row[clock]}" for row in rows if not looks_missing(row[clock])]
            forms = possible_forms(both) if both else []
            if forms:
                names = (dialect.columns[date], dialect.columns[clock])
                return names, _choose_form(forms, both, doubts)
    if numeric is not None:
        return (dialect.columns[numeric[0]],), numeric[1][0]
    for clock in clocks:
        if possible_forms(_cells(dialect, clock)) == [CLOCK]:
            doubts.append("The times have no date. They count from the first.")
            return (dialect.columns[clock],), CLOCK
    raise LoggerFileUnreadable(
        "No column contains times. A logger file needs one: date and time, time of day, seconds "
        "since the start, or seconds since 1970.",
        field="time_columns",
    )


def _may_be_elapsed(dialect: Dialect, place: int) -> bool:
    name = dialect.columns[place]
    if _TIME_TELL.search(name) or re.fullmatch(r"(t|s|sec|seconds?)\b.*", name, re.IGNORECASE):
        return True
    return place == 0 and _quantity_of(f"{name} {dialect.units[place]}") is None


def _choose_form(forms: list[str], cells: list[str], doubts: list[str]) -> str:
    """The form under which the sample is shortest: 03/04 then 04/04 is a day, not a month, on."""
    import polars as pl  # a tenth of a second to import, and only traces need it

    series = pl.Series(cells, dtype=pl.String)
    spans = {form: _span_s(parse_times(series, form)) for form in forms}
    best = min(spans.values())
    equal = [form for form in forms if spans[form] == best]
    if len({form.replace(", ", " ") for form in equal}) > 1 and _differ(
        [parse_times(series, form) for form in equal]
    ):
        doubts.append(f"“{cells[0]}” may have the day or the month first. The day is assumed.")
    return equal[0]


def _differ(readings: "list[FloatArray]") -> bool:
    return any(not np.array_equal(readings[0], other) for other in readings[1:])


def _span_s(seconds: "FloatArray") -> float:
    return float(np.abs(np.diff(seconds)).sum())

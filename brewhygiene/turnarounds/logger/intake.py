"""A logger file on its way in: its columns found, read to its end, before anything is kept."""

import dataclasses
from collections.abc import Iterable
from datetime import datetime
from typing import Any, BinaryIO

import numpy as np

from brewhygiene.brewery.models import Brewery
from brewhygiene.science.logger.dialect import Dialect, looks_missing
from brewhygiene.science.logger.mapping import Mapping, from_json, propose
from brewhygiene.science.logger.problems import LoggerFileUnreadable
from brewhygiene.science.logger.reading import size_of
from brewhygiene.science.logger.times import parse_times
from brewhygiene.turnarounds.logger.evaluation import first_look, place_steps, sha256_of
from brewhygiene.turnarounds.models import Clean, LoggerMapping


@dataclasses.dataclass(frozen=True)
class Columns:
    """How a file's columns are read, and who says so.

    ``remembered_as`` is the logger's name where it has one, ``remember`` whether it is to be
    kept under it from now on; ``checked`` whether a person said so, now or then; ``doubts`` is
    what they should look at.
    """

    mapping: Mapping
    remembered_as: str = ""
    remember: bool = False
    checked: bool = False
    doubts: tuple[str, ...] = ()


@dataclasses.dataclass(frozen=True)
class ReadFile:
    """A file that was read to its end."""

    file: BinaryIO
    name: str
    size_bytes: int
    sha256: str
    columns: Columns
    evaluation: dict[str, Any]


def remembered_for(dialect: Dialect, remembered: Iterable[LoggerMapping]) -> Columns | None:
    """The remembered logger whose columns are this file's; of several the one that reads most."""
    fitting = []
    for kept in remembered:
        try:
            mapping = from_json(kept.mapping)
            mapping.check(dialect)
        except LoggerFileUnreadable:
            continue
        if _times_read(dialect, mapping):
            fitting.append((len(mapping.columns), kept.made_at, kept.name, mapping))
    if not fitting:
        return None
    _, _, name, mapping = max(fitting, key=lambda each: each[:3])
    return Columns(mapping, remembered_as=name, checked=True)


def _times_read(dialect: Dialect, mapping: Mapping) -> bool:
    """Whether the times of the first rows can be read so, and its decimals are written so."""
    import polars as pl  # a tenth of a second to import, and only logger_files need it

    places = [dialect.index(name) for name in mapping.time_columns]
    cells = [
        " ".join(row[place] for place in places)
        for row in dialect.sample
        if not any(looks_missing(row[place]) for place in places)
    ]
    if not cells or mapping.decimal != dialect.decimal:
        return False
    times_s = parse_times(pl.Series(cells, dtype=pl.String), mapping.time_form, mapping.decimal)
    return bool(np.isfinite(times_s).mean() > 0.5)


def find_columns(dialect: Dialect, remembered: Iterable[LoggerMapping]) -> Columns:
    """By a remembered logger where one fits, else as proposed from the file itself."""
    known = remembered_for(dialect, remembered)
    if known is not None:
        return known
    proposal = propose(dialect)
    return Columns(proposal.mapping, doubts=proposal.doubts)


def evaluated(
    file: BinaryIO,
    *,
    clean: Clean,
    columns: Columns,
    dialect: Dialect,
    brewery: Brewery,
    now: datetime,
) -> dict[str, Any]:
    """The evaluation of a file by ``columns``, its steps placed as proposed.

    ``clean`` as loaded by ``queries.cleans_with_records``. Raises :class:`LoggerFileUnreadable`.
    """
    mapping = columns.mapping
    look = first_look(file, mapping=mapping, dialect=dialect, brewery=brewery)
    found = place_steps(look, file, clean=clean, mapping=mapping, dialect=dialect, now=now)
    return found | {"checked": columns.checked, "remembered_as": columns.remembered_as}


def read_file(
    file: BinaryIO,
    *,
    name: str,
    clean: Clean,
    brewery: Brewery,
    now: datetime,
    columns: Columns,
    dialect: Dialect,
) -> ReadFile:
    """Read a file to its end; nothing is kept. Raises :class:`LoggerFileUnreadable`."""
    evaluation = evaluated(
        file, clean=clean, columns=columns, dialect=dialect, brewery=brewery, now=now
    )
    return ReadFile(
        file=file,
        name=name,
        size_bytes=size_of(file),
        sha256=sha256_of(file),
        columns=columns,
        evaluation=evaluation,
    )

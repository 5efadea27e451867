"""The archives in a folder: their names, the newest, and which are old enough to go."""

import dataclasses
import os
import re
from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from pathlib import Path

# How many are kept: the newest of each of so many days, weeks and months that have one.
DAYS, WEEKS, MONTHS = 14, 8, 24
KEPT_IN_WORDS = f"{DAYS} days, {WEEKS} weeks and {MONTHS} months"
PLAIN, SEALED = ".zip", ".zip.sealed"
UNFINISHED = ".unfinished"
# Head brewers are told from then on.
STALE_AFTER = timedelta(days=2)
_NAME = re.compile(r"brewhygiene-([0-9a-f]{8})-(\d{8}T\d{6}Z)(\.zip|\.zip\.sealed)")


@dataclasses.dataclass(frozen=True)
class Kept:
    """An archive in its folder, as its name tells."""

    path: Path
    installation: str
    made_at: datetime


def name_for(installation: str, made_at: datetime, *, sealed: bool) -> str:
    """As ``brewhygiene-4f2a9c01-20261130T031500Z.zip``; ``installation`` is its first 8 digits."""
    moment = made_at.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    return f"brewhygiene-{installation[:8]}-{moment}{SEALED if sealed else PLAIN}"


def archives_in(folder: Path, *, installation: str = "") -> list[Kept]:
    """The archives of a folder (of one installation), oldest first. None where it is missing."""
    found = []
    try:
        with os.scandir(folder) as entries:
            names = [entry.name for entry in entries]
    except (FileNotFoundError, NotADirectoryError):
        return []
    for name in names:
        match = _NAME.fullmatch(name)
        if match is None or installation[:8] not in ("", match[1]):
            continue
        try:
            moment = datetime.strptime(match[2], "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)
        except ValueError:
            continue
        found.append(Kept(folder / name, match[1], moment))
    return sorted(found, key=lambda kept: (kept.made_at, kept.path.name))


def to_remove(kept: Iterable[Kept]) -> list[Kept]:
    """Those that no day, week or month needs any more."""
    newest_first = sorted(kept, key=lambda one: (one.made_at, one.path.name), reverse=True)
    periods: tuple[tuple[Callable[[datetime], object], int], ...] = (
        (lambda at: at.date(), DAYS),
        (lambda at: at.isocalendar()[:2], WEEKS),
        (lambda at: (at.year, at.month), MONTHS),
    )
    needed: set[Path] = set()
    for period_of, count in periods:
        seen: set[object] = set()
        for one in newest_first:
            period = period_of(one.made_at)
            if period not in seen and len(seen) < count:
                seen.add(period)
                needed.add(one.path)
    return [one for one in reversed(newest_first) if one.path not in needed]


class Newest:
    """When the newest archive of a folder was made; its list is read again when it changed.

    Asked for pages: one look at the folder itself each time, whatever there is in it.
    """

    def __init__(self) -> None:
        self._seen: tuple[Path, str, int] | None = None
        self._made_at: datetime | None = None

    def made_at(self, folder: Path, *, installation: str = "") -> datetime | None:
        """Raises :class:`OSError` where the folder cannot be read."""
        try:
            changed = folder.stat().st_mtime_ns
        except FileNotFoundError:
            return None
        now = (folder, installation, changed)
        if now != self._seen:
            found = archives_in(folder, installation=installation)
            self._made_at = found[-1].made_at if found else None
            self._seen = now
        return self._made_at

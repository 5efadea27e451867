"""The state of the installation, line by line, for the health page."""

import dataclasses
import os
import platform
import shutil
import stat
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import django
from django.db import connection
from django.utils import timezone

from brewhygiene import __version__
from brewhygiene.archive import data_folder
from brewhygiene.archive.daily import daily_backup
from brewhygiene.archive.keeping import KEPT_IN_WORDS, STALE_AFTER, archives_in
from brewhygiene.archive.words import size_words
from brewhygiene.archive.writing import head_of
from brewhygiene.health.certificate import certificate_state
from brewhygiene.health.clock import TOLERANCE, WHAT_TO_DO
from brewhygiene.health.faults import fault_of
from brewhygiene.ledger.heads.outside import newest_outside
from brewhygiene.quantities.style import digits, shown_moment

# Less room than this is said; a day of a busy brewery takes about a tenth of it.
LITTLE_ROOM_BYTES = 500_000_000


@dataclasses.dataclass(frozen=True)
class Line:
    """One thing that was looked at. ``attention`` says that ``do`` should be done."""

    title: str
    value: str
    attention: bool = False
    do: str = ""


def health_lines(now: datetime) -> list[Line]:
    """Everything that the health page shows. 9 queries, 10 on PostgreSQL."""
    return [
        _looked("Database", _database),
        _looked("Ledger", _ledger),
        _looked("Clock", lambda: _clock(now)),
        _looked("Disk of the data folder", lambda: _room(data_folder.folder())),
        _looked("Data folder", _folder),
        _looked("Newest backup", lambda: _backup(now)),
        _looked("Disk of the backups", lambda: _room(data_folder.backup_folder())),
        _looked("HTTPS", lambda: certificate(now)),
        _looked("Newest head outside", lambda: outside_head(now)),
        _looked("Version", _version),
    ]


def _looked(title: str, look: Callable[[], Line]) -> Line:
    """A line that cannot be looked at says why; the others are still shown."""
    try:
        return dataclasses.replace(look(), title=title)
    except OSError as error:
        fault = fault_of(error)
        return Line(title, error.strerror or str(error), True, fault.do if fault else "")


def _database() -> Line:
    size = size_words(data_folder.database_bytes())
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT sqlite_version()")
            return Line("", f"SQLite {cursor.fetchone()[0]}, {size}")
        cursor.execute("SHOW server_version")
        return Line("", f"PostgreSQL {cursor.fetchone()[0]}, {size}")


def _ledger() -> Line:
    head = head_of(connection)
    if not head.entries:
        return Line("", "No entries yet")
    last = datetime.fromisoformat(head.recorded_at)
    return Line("", f"{digits(head.entries, ',')} entries, the last on {_when(last)}")


def _clock(now: datetime) -> Line:
    head = head_of(connection)
    last = datetime.fromisoformat(head.recorded_at) if head.entries else now
    if now < last - TOLERANCE:
        words = f"{_when(now)}, before the last ledger entry ({_when(last)})"
        return Line("", words, True, WHAT_TO_DO)
    return Line("", _when(now))


def _room(folder: Path) -> Line:
    place = folder
    while not place.exists():
        place = place.parent
    usage = shutil.disk_usage(place)
    words = f"{size_words(usage.free)} free of {size_words(usage.total)}"
    if usage.free < LITTLE_ROOM_BYTES:
        return Line("", words, True, "Make room before nothing more can be recorded.")
    return Line("", words)


def _folder() -> Line:
    folder = data_folder.folder()
    mode = stat.S_IMODE(folder.stat().st_mode)
    if os.statvfs(folder).f_flag & os.ST_RDONLY:
        return Line("", f"{folder}, read-only", True, "Let the server's account write there.")
    if mode & 0o077:
        do = "Stop the server and start it again: it closes the folder to others."
        return Line("", f"{folder}, open to others on this machine", True, do)
    return Line("", f"{folder}, open to the server's account only")


def _backup(now: datetime) -> Line:
    folder = data_folder.backup_folder()
    mine = data_folder.marker()
    found = archives_in(folder, installation=mine.id if mine else "")
    do = daily_backup.why or "Run manage.py backup on the server, and see what it says."
    if not found:
        return Line("", f"None in {folder}", True, do)
    newest = found[-1]
    words = (
        f"{_when(newest.made_at)}, {_age(now - newest.made_at)} old, "
        f"{size_words(newest.path.stat().st_size)}. {len(found)} in {folder}, kept by age: "
        f"{KEPT_IN_WORDS}"
    )
    if now - newest.made_at > STALE_AFTER or daily_backup.why:
        return Line("", words, True, do)
    return Line("", words)


def certificate(now: datetime) -> Line:
    """The certificate of HTTPS: until when, since when, for which names. No query."""
    state = certificate_state(now, when=_when)
    return Line("", state.value, bool(state.do), state.do)


def _version() -> Line:
    return Line(
        "",
        f"{__version__}, Django {django.get_version()}, Python {platform.python_version()}",
    )


# The head of the ledger that was kept outside


def outside_head(now: datetime) -> Line:
    """When a head of the ledger last left this machine, and how. 1 query."""
    found = newest_outside()
    if found is None:
        return Line("", "None yet", True, "Print a release record, or set up a folder for heads.")
    moment, where = found
    return Line("", f"{_when(moment)}, {_age(now - moment)} old, {where}")


def _when(moment: datetime) -> str:
    """A moment by the brewery's clock, as every page shows it."""
    local = timezone.localtime(moment)
    return f"{shown_moment(local, 'j M Y, H:i')}"


def _age(age: timedelta) -> str:
    hours = int(age.total_seconds() // 3600)
    if hours < 1:
        return "less than 1 h"
    if hours < 48:
        return f"{hours} h"
    return f"{hours // 24} days"


# For a machine that asks whether the server is well

LEAST_ROOM_BYTES = 20_000_000


def is_well() -> bool:
    """Whether something could be recorded now. 1 query; raises what the database raises."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM brewhygiene_brewery LIMIT 1")
        cursor.fetchall()
    folder = data_folder.folder()
    if os.statvfs(folder).f_flag & os.ST_RDONLY:
        return False
    return shutil.disk_usage(folder).free >= LEAST_ROOM_BYTES

"""What failed below the pages, in words: the disk, the folder, the database."""

import dataclasses
import errno
import sqlite3
from collections.abc import Iterator

from django.db import DatabaseError, InterfaceError


@dataclasses.dataclass(frozen=True)
class Fault:
    """``what`` happened and what to ``do``; the same for everybody, so no path and no name."""

    code: str
    what: str
    do: str

    @property
    def do_at_start(self) -> str:
        """The same for whoever starts the server: there is no form to send again."""
        return self.do.replace("Then send it again.", "Then start it again.").replace(
            "send it again", "start it again"
        )


FULL = Fault(
    "full",
    "The server's disk is full.",
    "Whoever looks after the server has to make room on the disk of the data folder. "
    "Then send it again.",
)
READ_ONLY = Fault(
    "read_only",
    "The server cannot write to its data folder.",
    "Whoever looks after the server has to let the server's account write there. "
    "Then send it again.",
)
CORRUPT = Fault(
    "corrupt",
    "The database file is damaged.",
    "Record on paper. Whoever looks after the server has to stop it, keep the data folder as it "
    "is, and restore the newest archive into an empty folder: manage.py restore.",
)
LOCKED = Fault(
    "locked",
    "The database is locked: another program is writing to it.",
    "Wait a minute and send it again. If it stays so, whoever looks after the server has to close "
    "the other program.",
)
GONE = Fault(
    "gone",
    "The server cannot reach its database.",
    "Whoever looks after the server has to look whether the database is there and running. "
    "Then send it again.",
)
UNREADABLE = Fault(
    "unreadable",
    "The server's disk could not be read or written.",
    "Whoever looks after the server has to look at the disk: it may be full or failing. "
    "Then send it again.",
)

# SQLite's own names of its results: https://www.sqlite.org/rescode.html
_SQLITE = {
    "FULL": FULL,
    "READONLY": READ_ONLY,
    "PERM": READ_ONLY,
    "CORRUPT": CORRUPT,
    "NOTADB": CORRUPT,
    "BUSY": LOCKED,
    "LOCKED": LOCKED,
    "CANTOPEN": GONE,
    "IOERR": UNREADABLE,
}
# PostgreSQL's: https://www.postgresql.org/docs/current/errcodes-appendix.html
_POSTGRES = {
    "53100": FULL,
    "25006": READ_ONLY,
    "XX001": CORRUPT,
    "XX002": CORRUPT,
    "55P03": LOCKED,
    "40P01": LOCKED,
    "58030": UNREADABLE,
}
_POSTGRES_CLASSES = {"08": GONE, "57": GONE, "53": GONE}
_SYSTEM = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EFBIG: FULL,
    errno.EROFS: READ_ONLY,
    errno.EACCES: READ_ONLY,
    errno.EPERM: READ_ONLY,
    errno.EIO: UNREADABLE,
}


def fault_of(error: BaseException | None) -> Fault | None:
    """The fault behind an exception, or ``None`` where it is a mistake of the program's own."""
    for one in _chain(error):
        if isinstance(one, sqlite3.Error):
            found = _sqlite_fault(one)
        elif isinstance(one, DatabaseError | InterfaceError):
            continue  # Django's own, raised from the driver's
        elif isinstance(one, OSError):
            found = _SYSTEM.get(one.errno or 0)
        else:
            found = _postgres_fault(one)
        if found is not None:
            return found
    return None


def _chain(error: BaseException | None) -> Iterator[BaseException]:
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        yield error
        error = error.__cause__ or error.__context__


def _sqlite_fault(error: sqlite3.Error) -> Fault | None:
    name = getattr(error, "sqlite_errorname", "") or ""
    parts = name.split("_")
    return _SQLITE.get(parts[1]) if len(parts) > 1 else None


def _postgres_fault(error: BaseException) -> Fault | None:
    if type(error).__module__.partition(".")[0] != "psycopg":
        return None
    state = getattr(error, "sqlstate", None)
    if state:
        return _POSTGRES.get(state) or _POSTGRES_CLASSES.get(state[:2])
    # No answer at all: the connection could not be made, or broke.
    return GONE if type(error).__name__ == "OperationalError" else None

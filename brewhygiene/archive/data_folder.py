"""The data folder: what it holds besides the database, and which database it belongs to."""

import contextlib
import dataclasses
import json
import os
import secrets
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, connections

# What the folder remembers of its database, so that another or an older one is noticed.
MARKER = "installation.json"
RESTORING = ".restoring-"
# Where the ledger's key is in an archive, and after a restore.
KEY_FOLDER = "ledger_key"
# Made anew by every start.
REBUILT = ("static",)


@dataclasses.dataclass(frozen=True)
class Installation:
    """Who this folder is, and how far its ledger had come when it was last looked at."""

    id: str
    database: str = ""
    entries: int = 0
    head: str = ""
    first: str = ""
    recorded_at: str = ""
    begun_at: str = ""
    # Set while the invented brewery is being filled in: what is there then may be begun again.
    filling_demo: bool = False


def folder() -> Path:
    return Path(settings.DATA_DIR)


def marker_path() -> Path:
    return folder() / MARKER


def read_marker(path: Path | None = None) -> Installation | None:
    """What the folder remembers, or ``None`` where it remembers nothing that can be read."""
    try:
        given = json.loads((path or marker_path()).read_text(encoding="utf-8"))
        return Installation(**given)
    except (FileNotFoundError, ValueError, TypeError):
        return None


class _Marker:
    """The marker as last read; read again when the file changed."""

    def __init__(self) -> None:
        self._seen: tuple[Path, int] | None = None
        self._marker: Installation | None = None

    def __call__(self) -> Installation | None:
        path = marker_path()
        try:
            now = (path, path.stat().st_mtime_ns)
        except OSError:
            return None
        if now != self._seen:
            self._marker = read_marker(path)
            self._seen = now
        return self._marker


# For pages: one look at the file each time.
marker = _Marker()


def write_marker(installation: Installation, path: Path | None = None) -> None:
    with replaced(path or marker_path()) as file:
        file.write((json.dumps(dataclasses.asdict(installation), indent=1) + "\n").encode())


def new_id() -> str:
    return secrets.token_hex(16)


def database_name() -> str:
    """Which database this is, without the password."""
    given = connections[DEFAULT_DB_ALIAS].settings_dict
    if connections[DEFAULT_DB_ALIAS].vendor == "sqlite":
        path = Path(str(given["NAME"]))
        # The folder may be moved as a whole.
        inside = path.is_relative_to(folder())
        return f"sqlite:{path.relative_to(folder()) if inside else path}"
    return f"postgresql:{given['HOST'] or 'here'}/{given['NAME']}"


@contextlib.contextmanager
def replaced(path: Path) -> Iterator[IO[bytes]]:
    """A file that takes the place of another only once it is whole and on the disk."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle, draft = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        Path(draft).replace(path)
        sync_folder(path.parent)
    except BaseException:
        Path(draft).unlink(missing_ok=True)
        raise


def sync_folder(path: Path) -> None:
    """Make a rename in a folder outlive a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(path, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def backup_folder() -> Path:
    return Path(settings.BACKUP_DIR)


def database_path() -> Path:
    """Where a SQLite database is."""
    return Path(str(connections[DEFAULT_DB_ALIAS].settings_dict["NAME"])).absolute()


def database_files() -> set[Path]:
    """The files of a SQLite database, wherever it is."""
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor != "sqlite":
        return set()
    path = database_path()
    return {path.with_name(path.name + end) for end in ("", "-wal", "-shm", "-journal")}


def files_to_keep(*, but_not: Path | None = None) -> list[Path]:
    """The folder's own files that go into an archive: keys, photographs, logger files.

    Left out: the database (its rows go in), archives, the marker, what a start rebuilds, what is
    half written, and links.
    """
    top = folder()
    skipped = {path.absolute() for path in (backup_folder(), *database_files())}
    skipped |= {(top / name).absolute() for name in REBUILT}
    if but_not is not None:
        skipped.add(but_not.absolute())
    found: list[Path] = []
    for path in _walk(top, skipped):
        relative = path.relative_to(top)
        hidden = any(part.startswith(".") for part in relative.parts)
        if not hidden and relative.as_posix() != MARKER and "\\" not in str(relative):
            found.append(path)
    return sorted(found)


def keys_elsewhere() -> list[tuple[Path, str]]:
    """Keys that a site keeps apart from the data folder, and what an archive calls them.

    They come back into the data folder, from where they can be put apart again.
    """
    place = Path(settings.LEDGER_KEY_DIR).absolute()
    if not place.is_dir() or place.is_relative_to(folder()):
        return []
    return [
        (path, f"{KEY_FOLDER}/{path.name}") for path in sorted(place.iterdir()) if path.is_file()
    ]


def _walk(top: Path, skipped: set[Path]) -> Iterator[Path]:
    for place, folders, names in os.walk(top):
        here = Path(place)
        folders[:] = sorted(name for name in folders if (here / name).absolute() not in skipped)
        for name in names:
            path = here / name
            if path.absolute() not in skipped and stat.S_ISREG(path.lstat().st_mode):
                yield path


def close_to_others() -> list[str]:
    """Make the folder and what is in it the server's alone; what could not be, in words."""
    top = folder()
    try:
        top.chmod(0o700)
    except OSError as error:
        return [f"{top} can be read by others on this machine ({error.strerror})."]
    for path in files_to_keep():
        with contextlib.suppress(OSError):
            path.chmod(0o600)
    for path in database_files():
        with contextlib.suppress(OSError):
            path.chmod(0o600)
    return []


def owner_only() -> None:
    """What this process writes from now on can be read by its own account alone."""
    os.umask(0o077)


def sqlite_bytes() -> int:
    """How much there is in a SQLite database's place; 0 for another database."""
    return sum(path.stat().st_size for path in database_files() if path.exists())


def database_bytes() -> int:
    """How large the database is. 1 query on PostgreSQL."""
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor == "sqlite":
        return sqlite_bytes()
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_database_size(current_database())")
        return int(cursor.fetchone()[0])

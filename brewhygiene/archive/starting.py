"""Whether a start finds the database that its data folder belongs to.

An empty or foreign database beside data is refused, an older one is named; and the invented brewery
is filled in only where nothing has ever been: never beside somebody's data.
"""

import dataclasses
import os
import tempfile
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections
from django.db.migrations.executor import MigrationExecutor

from brewhygiene.archive import data_folder
from brewhygiene.archive.data_folder import Installation
from brewhygiene.archive.faults import ArchiveFault, PlaceInUse
from brewhygiene.archive.keeping import archives_in
from brewhygiene.archive.layout.manifest import Head
from brewhygiene.archive.passphrase import passphrase_from_file
from brewhygiene.archive.writing import head_of, in_words, make_archive
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.quantities.style import digits


@dataclasses.dataclass(frozen=True)
class Found:
    """What a start found: whether to fill in the invented brewery, and what to say."""

    set_up: bool
    fill_demo: bool
    warnings: list[str]


def refuse_unusable_folder() -> None:
    """Raises :class:`ArchiveFault` where the data folder is no folder or cannot be written to."""
    folder = data_folder.folder()
    if folder.exists() and not folder.is_dir():
        raise ArchiveFault(f"{folder} is a file. Name a folder as DATA_DIR.")
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=folder, prefix=".try-") as file:
            file.write(b"\0" * 4096)
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        words = str(in_words(error, folder)).split(". ", 1)[0]
        raise ArchiveFault(
            f"{words}. Nothing can be recorded there: make room or let the server's account write "
            "there, then start again."
        ) from error


def refuse_interrupted_restore() -> None:
    """Half of what an archive held is worse than nothing: it would be taken for all of it."""
    left = sorted(data_folder.folder().glob(f"{data_folder.RESTORING}*"))
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor == "sqlite":
        place = Path(str(connection.settings_dict["NAME"])).absolute().parent
        left += sorted(place.glob(f"{data_folder.RESTORING}*"))
    if left:
        raise PlaceInUse(
            f"A restore did not end here: {left[0]} is left. Empty {data_folder.folder()} and "
            "restore the archive again."
        )


def begin(*, now: datetime, demo: bool) -> bool:
    """Note that this is the very first start, before anything is written; whether it is.

    A folder with a marker, a key or files of somebody has been started in before.
    """
    if data_folder.read_marker() is not None or not _untouched():
        return False
    data_folder.write_marker(
        Installation(id=data_folder.new_id(), begun_at=now.isoformat(), filling_demo=demo)
    )
    return True


def _untouched() -> bool:
    key = Path(settings.DATA_DIR, "secret_key")
    files = [path for path in data_folder.files_to_keep() if path != key]
    old_key = key.exists() and not settings.SECRET_KEY_IS_NEW
    return not (
        files or old_key or data_folder.sqlite_bytes() or archives_in(data_folder.backup_folder())
    )


def refuse_damaged_database() -> None:
    """Raises :class:`ArchiveFault` for a SQLite file that is damaged, or is none at all."""
    connection = connections[DEFAULT_DB_ALIAS]
    if connection.vendor != "sqlite" or not data_folder.sqlite_bytes():
        return
    try:
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA quick_check(1)")
            said = cursor.fetchone()[0]
    except DatabaseError as error:
        name = getattr(error.__cause__, "sqlite_errorname", "")
        if name not in ("SQLITE_CORRUPT", "SQLITE_NOTADB"):
            raise
        said = str(error)
    if said != "ok":
        raise ArchiveFault(
            f"The database file {connection.settings_dict['NAME']} is damaged. Keep "
            f"{data_folder.folder()} as it is, and restore the newest archive into an empty "
            f"folder: manage.py restore. (SQLite: {said})"
        )


def back_up_before_migrating(*, now: datetime) -> Path | None:
    """Keep what a new version is about to change; where, or ``None`` where nothing is."""
    connection = connections[DEFAULT_DB_ALIAS]
    if not head_exists():
        return None
    executor = MigrationExecutor(connection)
    if not executor.migration_plan(executor.loader.graph.leaf_nodes()):
        return None
    return make_archive(now=now, passphrase=passphrase_from_file()).path


def head_exists() -> bool:
    """Whether there is a ledger with an entry in it, whatever version made it. 2 queries."""
    connection = connections[DEFAULT_DB_ALIAS]
    if "brewhygiene_entry" not in connection.introspection.table_names():
        return False
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1 FROM brewhygiene_entry LIMIT 1")
        return cursor.fetchone() is not None


def look(*, now: datetime) -> Found:
    """Compare the database, migrated by now, with what the folder remembers of its own.

    Raises :class:`PlaceInUse` for an empty or foreign database beside data.
    """
    marker = data_folder.read_marker()
    head = head_of(connections[DEFAULT_DB_ALIAS])
    set_up = Brewery.objects.exists() or bool(head.entries)
    if not set_up:
        _refuse_empty_beside_data(marker)
        fill_demo = marker is not None and marker.filling_demo
        return Found(set_up=False, fill_demo=fill_demo, warnings=[])
    warnings = [] if marker is None else _older(marker, head)
    if marker is not None:
        _refuse_foreign(marker, head)
    remember(head, now=now)
    return Found(set_up=True, fill_demo=False, warnings=warnings)


def remember(head: Head | None = None, *, now: datetime) -> None:
    """Write down how far the ledger has come, for the next start."""
    head = head or head_of(connections[DEFAULT_DB_ALIAS])
    marker = data_folder.read_marker() or Installation(
        id=data_folder.new_id(), begun_at=now.isoformat()
    )
    data_folder.write_marker(
        dataclasses.replace(
            marker,
            database=data_folder.database_name(),
            entries=head.entries,
            head=head.hash,
            first=head.first_hash,
            recorded_at=head.recorded_at,
            filling_demo=False,
        )
    )


def _refuse_empty_beside_data(marker: Installation | None) -> None:
    folder, database = data_folder.folder(), data_folder.database_name()
    if marker is not None and marker.entries:
        raise PlaceInUse(
            f"The database {database} is empty, and {folder} belongs to one with "
            f"{digits(marker.entries, ',')} entries ({marker.database}). Name that database "
            "in DATABASE_URL, "
            "or restore the newest archive into an empty folder: manage.py restore. To begin "
            "anew, name an empty folder as DATA_DIR. Nothing was filled in."
        )
    if marker is not None and marker.filling_demo:
        return
    media = Path(settings.MEDIA_ROOT)
    photos = [path for path in data_folder.files_to_keep() if path.is_relative_to(media)]
    kept = [kept.path for kept in archives_in(data_folder.backup_folder())]
    if there := [*photos, *kept]:
        raise PlaceInUse(
            f"The database {database} is empty, and {there[0]} is beside it: somebody's data. "
            "Put the database back, or restore the newest archive into an empty folder: "
            "manage.py restore. To begin anew, name an empty folder as DATA_DIR. "
            "Nothing was filled in."
        )


def _refuse_foreign(marker: Installation, head: Head) -> None:
    if marker.first and head.first_hash and marker.first != head.first_hash:
        raise PlaceInUse(
            f"The database {data_folder.database_name()} belongs to another brewery: its first "
            f"ledger entry is not the one that {data_folder.folder()} remembers. Name the right "
            "database in DATABASE_URL, or the right folder in DATA_DIR. If you moved the brewery "
            f"here on purpose, delete {data_folder.marker_path()} and start again."
        )


def _older(marker: Installation, head: Head) -> list[str]:
    if not marker.entries:
        return []
    hashes = Entry.objects.order_by("id").values_list("hash", flat=True)
    then = hashes[marker.entries - 1 : marker.entries].first()
    if then == marker.head:
        return []
    words = (
        "This database is older than its folder: the last start saw "
        f"{digits(marker.entries, ',')} ledger "
        f"entries, until {marker.recorded_at[:16].replace('T', ' ')} UTC, and now there are "
        f"{digits(head.entries, ',')}, until {head.recorded_at[:16].replace('T', ' ')} UTC. "
        "If you did not "
        "put an older copy here, stop the server and restore the newest archive."
    )
    return [words]

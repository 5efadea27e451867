"""What an archive may be restored into: an empty folder and an empty database, with room."""

import shutil
from pathlib import Path

from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections
from django.db.migrations.loader import MigrationLoader

from brewhygiene.archive import data_folder
from brewhygiene.archive.faults import ArchiveFault, NoRoom, PlaceInUse, TooNew
from brewhygiene.archive.layout.manifest import Manifest
from brewhygiene.quantities.style import digits

RESERVE_BYTES = 32 * 1024 * 1024


def first_line(error: Exception) -> str:
    return str(error).splitlines()[0][:200] if str(error) else type(error).__name__


def refuse_newer(manifest: Manifest) -> None:
    unknown = {(app, name) for app, name in manifest.migrations}
    unknown -= MigrationLoader(None).disk_migrations.keys()
    if unknown:
        raise TooNew(
            f"This archive was made by a newer version ({manifest.version}, with "
            f"{max(unknown)[1]}). Install that version, or a later one, and restore with it."
        )


def refuse_used_folder(*, keep: Path) -> None:
    """Any file there is somebody's, but for the archive itself."""
    folder = data_folder.folder()
    if folder.exists() and not folder.is_dir():
        raise PlaceInUse(f"{folder} is a file. Name an empty folder as DATA_DIR.")
    if not folder.is_dir():
        return
    mine = data_folder.read_marker()
    there = [
        path.relative_to(folder).as_posix()
        for path in data_folder.files_to_keep()
        if path.absolute() != keep.absolute()
    ]
    if mine is not None and mine.entries:
        there.append(data_folder.MARKER)
    if there:
        raise PlaceInUse(
            f"{folder} is in use: {there[0]} is there already. An archive is restored into an "
            "empty folder only. Name one as DATA_DIR."
        )


def refuse_used_database() -> None:
    """A database that has a brewery, a person or an entry in it is somebody's."""
    connection = connections[DEFAULT_DB_ALIAS]
    where = data_folder.database_name()
    if connection.vendor == "sqlite" and not data_folder.database_path().exists():
        return
    try:
        tables = set(connection.introspection.table_names())
        used = {
            "brewhygiene_brewery": "a brewery",
            "brewhygiene_user": "a person",
            "brewhygiene_entry": "a ledger",
        }
        with connection.cursor() as cursor:
            for table in used.keys() & tables:
                cursor.execute(f"SELECT 1 FROM {connection.ops.quote_name(table)} LIMIT 1")  # noqa: S608
                if cursor.fetchone():
                    name = _name_of_brewery(cursor) if "brewhygiene_brewery" in tables else ""
                    raise PlaceInUse(
                        f"The database {where} is in use: {name or used[table]} is in it already. "
                        "Nothing is ever overwritten: name an empty database, or an empty folder "
                        "as DATA_DIR."
                    )
        if tables and connection.vendor != "sqlite":
            raise PlaceInUse(
                f"The database {where} has tables already. Make a new, empty one and name it in "
                "DATABASE_URL."
            )
    except DatabaseError as error:
        raise ArchiveFault(
            f"The database {where} cannot be used ({first_line(error)}). Name another one."
        ) from error
    finally:
        connection.close()


def _name_of_brewery(cursor: object) -> str:
    cursor.execute("SELECT name FROM brewhygiene_brewery")  # type: ignore[attr-defined]
    row = cursor.fetchone()  # type: ignore[attr-defined]
    return f"“{row[0]}”" if row else ""


def refuse_without_room(manifest: Manifest) -> None:
    place = data_folder.folder()
    while not place.exists():
        place = place.parent
    # Rows take about as much in a database with its indexes as their text does.
    needed = RESERVE_BYTES + sum(member.bytes for member in manifest.members)
    free = shutil.disk_usage(place).free
    if free < needed:
        raise NoRoom(
            f"There is not enough room in {place}: the archive needs about "
            f"{digits(needed / 1e6, ',.0f')} "
            f"MB, and {digits(free / 1e6, ',.0f')} MB are free. Make room there, or restore "
            "into another "
            "folder with DATA_DIR. Nothing was written."
        )

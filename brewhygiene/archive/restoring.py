"""Bring an archive back into an empty place: all of it, or nothing.

On SQLite the database and the files are made beside their places and renamed into them at the end,
the database last. On PostgreSQL the rows are one transaction, and the files are renamed once it
can no longer fail. Tables are made as they were when the archive was, then migrated.
"""

import contextlib
import dataclasses
import errno
import io
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

from django.core.exceptions import ValidationError
from django.core.management import call_command
from django.db import (
    DEFAULT_DB_ALIAS,
    DatabaseError,
    InterfaceError,
    OperationalError,
    connections,
    transaction,
)
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader

from brewhygiene.archive import data_folder
from brewhygiene.archive.faults import ArchiveFault, Damaged, NoRoom, PlaceInUse, TooNew
from brewhygiene.archive.layout.manifest import Manifest, Member
from brewhygiene.archive.layout.sealing import DAMAGED
from brewhygiene.archive.layout.snapshot import connect
from brewhygiene.archive.layout.tables import apps_at, insert_rows, last_of, set_next_ids, tables_of
from brewhygiene.archive.reading import Archive, open_archive, verify
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import check_chain

RESERVE_BYTES = 32 * 1024 * 1024


@dataclasses.dataclass(frozen=True)
class Restored:
    manifest: Manifest
    files: int


def restore_archive(path: Path, *, passphrase: str = "") -> Restored:
    """Fill an empty data folder and an empty database from an archive.

    Raises :class:`ArchiveFault` in words; then nothing was written.
    """
    with open_archive(path, passphrase=passphrase) as archive:
        manifest = archive.manifest
        _refuse_newer(manifest)
        _refuse_used_folder(keep=path)
        _refuse_used_database()
        verify(archive)
        _refuse_without_room(manifest)
        try:
            with _beside() as draft:
                _unpack_files(archive, draft)
                if connections[DEFAULT_DB_ALIAS].vendor == "sqlite":
                    _restore_sqlite(archive, draft)
                else:
                    _restore_in_one_transaction(archive, draft)
        except OSError as error:
            raise _in_words(error) from error
        except (OperationalError, sqlite3.OperationalError) as error:
            if "full" in str(error) or "No space" in str(error):
                raise NoRoom(_NO_ROOM.format(folder=data_folder.folder())) from error
            raise ArchiveFault(f"The database said: {error}. Nothing was written.") from error
        except (DatabaseError, InterfaceError, ValidationError, ValueError, TypeError) as error:
            raise Damaged(
                f"A row of the archive does not fit its table ({_first_line(error)}). "
                "Nothing was written. Take another archive."
            ) from error
    return Restored(manifest, len(manifest.files))


_NO_ROOM = (
    "There is no room left in {folder}. Make room there, or restore into another folder with "
    "DATA_DIR. Nothing was written."
)


def _first_line(error: Exception) -> str:
    return str(error).splitlines()[0][:200] if str(error) else type(error).__name__


def _in_words(error: OSError) -> ArchiveFault:
    folder = data_folder.folder()
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return NoRoom(_NO_ROOM.format(folder=folder))
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return NoRoom(
            f"{folder} cannot be written to ({error.strerror}). Let the server's account write "
            "there, or restore into another folder with DATA_DIR."
        )
    return ArchiveFault(f"{folder}: {error.strerror or error}. Nothing was written.")


# Refusals


def _refuse_newer(manifest: Manifest) -> None:
    unknown = {(app, name) for app, name in manifest.migrations}
    unknown -= MigrationLoader(None).disk_migrations.keys()
    if unknown:
        raise TooNew(
            f"This archive was made by a newer version ({manifest.version}, with "
            f"{max(unknown)[1]}). Install that version, or a later one, and restore with it."
        )


def _refuse_used_folder(*, keep: Path) -> None:
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


def _refuse_used_database() -> None:
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
            f"The database {where} cannot be used ({_first_line(error)}). Name another one."
        ) from error
    finally:
        connection.close()


def _name_of_brewery(cursor: object) -> str:
    cursor.execute("SELECT name FROM brewhygiene_brewery")  # type: ignore[attr-defined]
    row = cursor.fetchone()  # type: ignore[attr-defined]
    return f"“{row[0]}”" if row else ""


def _refuse_without_room(manifest: Manifest) -> None:
    place = data_folder.folder()
    while not place.exists():
        place = place.parent
    # Rows take about as much in a database with its indexes as their text does.
    needed = RESERVE_BYTES + sum(member.bytes for member in manifest.members)
    free = shutil.disk_usage(place).free
    if free < needed:
        raise NoRoom(
            f"There is not enough room in {place}: the archive needs about {needed / 1e6:,.0f} "
            f"MB, and {free / 1e6:,.0f} MB are free. Make room there, or restore into another "
            "folder with DATA_DIR. Nothing was written."
        )


# Files


@contextlib.contextmanager
def _beside() -> Iterator[Path]:
    """A folder in the data folder, for what is not in its place yet; gone at the end."""
    folder = data_folder.folder()
    fresh = not folder.exists()
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    for path in folder.glob(f"{data_folder.RESTORING}*"):
        shutil.rmtree(path, ignore_errors=True)
    draft = Path(tempfile.mkdtemp(prefix=data_folder.RESTORING, dir=folder))
    try:
        yield draft
    finally:
        shutil.rmtree(draft, ignore_errors=True)
        if fresh:
            # Only where nothing came of it.
            with contextlib.suppress(OSError):
                folder.rmdir()


def _unpack_files(archive: Archive, draft: Path) -> None:
    for member in archive.manifest.files:
        path = draft / member.name
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with path.open("xb") as file:
            for block in archive.blocks(member):
                file.write(block)
            file.flush()
            os.fsync(file.fileno())
        path.chmod(0o600)


@contextlib.contextmanager
def _files_in_place(archive: Archive, draft: Path) -> Iterator[None]:
    """Move the files into the data folder, whole folders at once; back out where more fails."""
    unpacked = draft / "files"
    folder = data_folder.folder()
    moved: list[Path] = []
    try:
        for path in sorted(unpacked.iterdir()) if unpacked.is_dir() else []:
            target = folder / path.name
            if target.is_dir():
                # Empty but for folders, as was looked at before.
                shutil.rmtree(target)
            path.rename(target)
            moved.append(target)
        moved.append(data_folder.marker_path())
        _write_marker(archive.manifest)
        data_folder.sync_folder(folder)
        yield
    except BaseException:
        for target in moved:
            if target.is_dir():
                shutil.rmtree(target, ignore_errors=True)
            else:
                target.unlink(missing_ok=True)
        raise


def _write_marker(manifest: Manifest) -> None:
    head = manifest.head
    data_folder.write_marker(
        data_folder.Installation(
            id=manifest.installation,
            database=data_folder.database_name(),
            entries=head.entries,
            head=head.hash,
            first=head.first_hash,
            recorded_at=head.recorded_at,
        )
    )


# Rows


def _restore_sqlite(archive: Archive, draft: Path) -> None:
    target = data_folder.database_path()
    target.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    # Beside its place: a rename does not cross from one disk to another.
    made = target.with_name(f"{data_folder.RESTORING}{target.name}")
    _unlink_sqlite(made)
    before = connections[DEFAULT_DB_ALIAS]
    before.close()
    connect(DEFAULT_DB_ALIAS, name=str(made))
    try:
        _fill_database(archive)
        with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
            # Into the file itself, which is renamed alone.
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        connections[DEFAULT_DB_ALIAS].close()
        connections[DEFAULT_DB_ALIAS] = before
        _sync_file(made)
        with _files_in_place(archive, draft):
            _unlink_sqlite(target)
            made.rename(target)
            data_folder.sync_folder(target.parent)
    finally:
        if connections[DEFAULT_DB_ALIAS] is not before:
            connections[DEFAULT_DB_ALIAS].close()
            connections[DEFAULT_DB_ALIAS] = before
        _unlink_sqlite(made)


def _unlink_sqlite(path: Path) -> None:
    for end in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + end).unlink(missing_ok=True)


def _sync_file(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _restore_in_one_transaction(archive: Archive, draft: Path) -> None:
    # The files go back out where the commit fails: the stack is left after it.
    with contextlib.ExitStack() as files, transaction.atomic():
        _fill_database(archive)
        files.enter_context(_files_in_place(archive, draft))


def _fill_database(archive: Archive) -> None:
    """Tables as they were, their rows, then today's tables; and the ledger walked."""
    connection = connections[DEFAULT_DB_ALIAS]
    manifest = archive.manifest
    applied = [(app, name) for app, name in manifest.migrations]
    _make_tables(applied)
    tables = {model._meta.db_table: model for model in tables_of(apps_at(applied))}
    with transaction.atomic():
        _empty(list(tables))
        for member in manifest.tables:
            model = tables.get(member.table)
            if model is None:
                raise Damaged(DAMAGED)
            count = insert_rows(model, archive.rows(member), connection=connection)
            _refuse_other_count(member, count)
        set_next_ids(
            tables.values(),
            {member.table: member.last_id for member in manifest.tables},
            connection,
        )
        # Rows may come before those that they point to. Looked at now: PostgreSQL changes no
        # table, in the migrations that follow, while there is something to look at.
        connection.check_constraints()
    call_command("migrate", interactive=False, verbosity=0, stdout=io.StringIO())
    _refuse_other_ledger(manifest)


def _make_tables(applied: list[tuple[str, str]]) -> None:
    """By the very migrations that the archive's database had had."""
    executor = MigrationExecutor(connections[DEFAULT_DB_ALIAS])
    executor.migrate(last_of(applied, executor.loader))


def _refuse_other_count(member: Member, count: int) -> None:
    if count != member.rows:
        raise Damaged(DAMAGED)


def _refuse_other_ledger(manifest: Manifest) -> None:
    """The ledger has to be whole, and go as far as the archive says."""
    expected = manifest.head
    hashes = Entry.objects.order_by("id").values_list("hash", flat=True)
    if expected.entries:
        found = hashes[expected.entries - 1 : expected.entries].first()
        if found != expected.hash or hashes[0] != expected.first_hash:
            raise Damaged(DAMAGED)
    broken = check_chain()
    if broken is not None:
        raise Damaged(
            f"The ledger in the archive is broken at entry {broken.pk}. Nothing was written. "
            "Take another archive."
        )


def _empty(tables: list[str]) -> None:
    """What the migrations themselves put there: its ids may be others than the archive's."""
    connection = connections[DEFAULT_DB_ALIAS]
    with connection.cursor() as cursor:
        for table in reversed(tables):
            cursor.execute(f"DELETE FROM {connection.ops.quote_name(table)}")  # noqa: S608

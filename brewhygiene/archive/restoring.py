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

from brewhygiene.archive import data_folder
from brewhygiene.archive.empty_place import (
    first_line,
    refuse_newer,
    refuse_used_database,
    refuse_used_folder,
    refuse_without_room,
)
from brewhygiene.archive.faults import ArchiveFault, Damaged, NoRoom
from brewhygiene.archive.layout.manifest import Manifest, Member
from brewhygiene.archive.layout.sealing import DAMAGED
from brewhygiene.archive.layout.snapshot import connect
from brewhygiene.archive.layout.tables import apps_at, insert_rows, last_of, set_next_ids, tables_of
from brewhygiene.archive.reading import Archive, open_archive, verify
from brewhygiene.ledger import triggers
from brewhygiene.ledger.check.whole import check_everything
from brewhygiene.ledger.findings import Finding, Kind
from brewhygiene.ledger.heads.key import KEY_FILE, public_hex_at
from brewhygiene.ledger.models import Entry


@dataclasses.dataclass(frozen=True)
class Restored:
    manifest: Manifest
    files: int
    findings: list[Finding]


def restore_archive(
    path: Path, *, passphrase: str = "", despite_findings: bool = False
) -> Restored:
    """Fill an empty data folder and an empty database from an archive.

    Raises :class:`ArchiveFault` in words; then nothing was written.
    """
    with open_archive(path, passphrase=passphrase) as archive:
        manifest = archive.manifest
        refuse_newer(manifest)
        refuse_used_folder(keep=path)
        refuse_used_database()
        verify(archive)
        refuse_without_room(manifest)
        try:
            with _beside() as draft:
                _unpack_files(archive, draft)
                if connections[DEFAULT_DB_ALIAS].vendor == "sqlite":
                    restore = _restore_sqlite
                else:
                    restore = _restore_in_one_transaction
                findings = restore(archive, draft, despite_findings=despite_findings)
        except OSError as error:
            raise _in_words(error) from error
        except (OperationalError, sqlite3.OperationalError) as error:
            if "full" in str(error) or "No space" in str(error):
                raise NoRoom(_NO_ROOM.format(folder=data_folder.folder())) from error
            raise ArchiveFault(f"The database said: {error}. Nothing was written.") from error
        except (DatabaseError, InterfaceError, ValidationError, ValueError, TypeError) as error:
            raise Damaged(
                f"A row of the archive does not fit its table ({first_line(error)}). "
                "Nothing was written. Take another archive."
            ) from error
    return Restored(manifest, len(manifest.files), findings)


_NO_ROOM = (
    "There is no room left in {folder}. Make room there, or restore into another folder with "
    "DATA_DIR. Nothing was written."
)


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


def _restore_sqlite(archive: Archive, draft: Path, *, despite_findings: bool) -> list[Finding]:
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
        with _files_in_place(archive, draft):
            findings = _refuse_other_ledger(archive.manifest, despite_findings=despite_findings)
            # Into the file itself, which is renamed alone.
            _checkpoint()
            connections[DEFAULT_DB_ALIAS].close()
            connections[DEFAULT_DB_ALIAS] = before
            _sync_file(made)
            _unlink_sqlite(target)
            made.rename(target)
            data_folder.sync_folder(target.parent)
        return findings
    finally:
        if connections[DEFAULT_DB_ALIAS] is not before:
            connections[DEFAULT_DB_ALIAS].close()
            connections[DEFAULT_DB_ALIAS] = before
        _unlink_sqlite(made)


def _checkpoint() -> None:
    with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
        cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _unlink_sqlite(path: Path) -> None:
    for end in ("", "-wal", "-shm", "-journal"):
        path.with_name(path.name + end).unlink(missing_ok=True)


def _sync_file(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def _restore_in_one_transaction(
    archive: Archive, draft: Path, *, despite_findings: bool
) -> list[Finding]:
    # The files go back out where the commit fails: the stack is left after it.
    with contextlib.ExitStack() as files, transaction.atomic():
        _fill_database(archive)
        files.enter_context(_files_in_place(archive, draft))
        return _refuse_other_ledger(archive.manifest, despite_findings=despite_findings)


def _fill_database(archive: Archive) -> None:
    """Tables as they were, their rows, then today's tables."""
    connection = connections[DEFAULT_DB_ALIAS]
    manifest = archive.manifest
    applied = [(app, name) for app, name in manifest.migrations]
    _make_tables(applied)
    tables = {model._meta.db_table: model for model in tables_of(apps_at(applied))}
    with transaction.atomic():
        # They refuse what follows; the migration below puts them back.
        triggers.remove()
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


def _make_tables(applied: list[tuple[str, str]]) -> None:
    """By the very migrations that the archive's database had had."""
    executor = MigrationExecutor(connections[DEFAULT_DB_ALIAS])
    executor.migrate(last_of(applied, executor.loader))


def _refuse_other_count(member: Member, count: int) -> None:
    if count != member.rows:
        raise Damaged(DAMAGED)


def _refuse_other_ledger(manifest: Manifest, *, despite_findings: bool) -> list[Finding]:
    """The ledger has to go as far as the archive says, and to match its rows and files.

    What does not match is refused, or returned where it is wanted nonetheless: a brewery whose
    newest archives all hold a changed row still needs its records back.
    """
    expected = manifest.head
    hashes = Entry.objects.order_by("id").values_list("hash", flat=True)
    if expected.entries:
        found = hashes[expected.entries - 1 : expected.entries].first()
        if found != expected.hash or hashes[0] != expected.first_hash:
            raise Damaged(DAMAGED)
    # The key that came back: another one may be where the next start looks for it.
    key = public_hex_at(data_folder.folder() / data_folder.KEY_FOLDER / KEY_FILE)
    findings = [one for one in check_everything(own_key=key) if not _was_gone(one, manifest)]
    if findings and not despite_findings:
        more = f" (and {len(findings) - 1} more)" if len(findings) > 1 else ""
        raise Damaged(
            f"The ledger does not match what the archive holds: {findings[0].text}{more} Nothing "
            "was written. Take another archive, or restore this one as it is with "
            "--despite-findings."
        )
    return findings


def _was_gone(finding: Finding, manifest: Manifest) -> bool:
    """A file that was gone when the archive was made: the end of the restore says so."""
    return finding.kind == Kind.MISSING and any(
        name.endswith(f"/{finding.file}") for name in manifest.missing if finding.file
    )


def _empty(tables: list[str]) -> None:
    """What the migrations themselves put there: its ids may be others than the archive's."""
    connection = connections[DEFAULT_DB_ALIAS]
    with connection.cursor() as cursor:
        for table in reversed(tables):
            cursor.execute(f"DELETE FROM {connection.ops.quote_name(table)}")  # noqa: S608

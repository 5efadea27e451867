"""Write an archive: every row, every file of the data folder, and what it holds, as one zip file.

Inside, for tools that know nothing of this program: ``READ ME.txt``, ``tables/*.jsonl`` with one
row a line, ``files/`` as they lie in the data folder, and ``manifest.json`` with the count and
SHA-256 of each. It is written to the side and takes its name only once it has been read back.
"""

import contextlib
import dataclasses
import errno
import fcntl
import hashlib
import io
import os
import shutil
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from django.conf import settings
from django.db import connections, models
from django.db.backends.base.base import BaseDatabaseWrapper

from brewhygiene import __version__
from brewhygiene.archive import data_folder
from brewhygiene.archive.faults import ArchiveFault, NoRoom
from brewhygiene.archive.keeping import UNFINISHED, archives_in, name_for, to_remove
from brewhygiene.archive.layout.manifest import MANIFEST, Head, Manifest, Member, safe_name
from brewhygiene.archive.layout.sealing import SealedWriter
from brewhygiene.archive.layout.snapshot import snapshot
from brewhygiene.archive.layout.tables import (
    LEFT_OUT,
    Model,
    applied_migrations,
    apps_at,
    column_names,
    columns_of,
    line_of,
    next_ids,
    tables_of,
    writers_of,
)
from brewhygiene.archive.reading import open_archive, verify
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.quantities.style import digits

CHUNK = 2000
COPY_BYTES = 1024 * 1024
# What has to stay free beside the archive, so that the server can go on recording.
RESERVE_BYTES = 64 * 1024 * 1024
READ_ME = """This is an archive of brewhygiene, a brewery's cleaning programme.

manifest.json   what is in here: rows and SHA-256 of every file, version, last ledger entry
tables/         one file for each table, one row a line as JSON; times are in UTC
files/          photographs, logger files and keys, as they lie in the data folder

To bring it back, in an empty data folder: manage.py restore ARCHIVE
Whoever has this file has everything in it, password hashes and keys included. Keep it safe.
"""


@dataclasses.dataclass(frozen=True)
class Made:
    """A finished archive, and the older ones that went."""

    path: Path
    manifest: Manifest
    removed: list[Path]


def make_archive(
    *, now: datetime, to: Path | None = None, passphrase: str = "", keep_by_age: bool = True
) -> Made:
    """Write an archive to a folder (or where they are kept), and let old ones there go.

    ``keep_by_age`` removes nothing but this installation's own archives, and only where they are
    kept. Raises :class:`ArchiveFault` in words; nothing half-written stays behind.
    """
    kept_in = data_folder.backup_folder()
    folder = (to or kept_in).absolute()
    mine = data_folder.read_marker() or data_folder.Installation(id=data_folder.new_id())
    _make_folder(folder)
    path = folder / name_for(mine.id, now, sealed=bool(passphrase))
    if path.exists():
        raise ArchiveFault(f"{path} is there already. Wait a second and try again.")
    draft = path.with_name(path.name + UNFINISHED)
    ours = False
    try:
        _forget_unfinished(folder)
        _refuse_without_room(folder)
        with draft.open("xb") as file:
            ours = True
            fcntl.flock(file, fcntl.LOCK_EX)
            manifest = _write(file, now=now, passphrase=passphrase, mine=mine, folder=folder)
            file.flush()
            os.fsync(file.fileno())
        with open_archive(draft, passphrase=passphrase) as archive:
            verify(archive)
        draft.rename(path)
        data_folder.sync_folder(folder)
        with contextlib.suppress(OSError):  # the data folder may be read-only
            data_folder.write_marker(_seen(mine, manifest))
        removed = _let_go(folder, mine.id) if keep_by_age and folder == kept_in.absolute() else []
    except OSError as error:
        raise in_words(error, folder) from error
    finally:
        if ours:
            with contextlib.suppress(OSError):
                draft.unlink(missing_ok=True)
    return Made(path, manifest, removed)


def in_words(error: OSError, folder: Path) -> ArchiveFault:
    """What the system said of a folder, and what to do."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG):
        return NoRoom(
            f"There is no room left in {folder}. Make room there, or name another folder with "
            "--to. Nothing was written."
        )
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return NoRoom(
            f"{folder} cannot be written to ({error.strerror}). Let the server's account write "
            "there, or name another folder with --to."
        )
    return ArchiveFault(f"{folder}: {error.strerror or error}. Nothing was written.")


def _seen(mine: data_folder.Installation, manifest: Manifest) -> data_folder.Installation:
    head = manifest.head
    return dataclasses.replace(
        mine,
        database=data_folder.database_name(),
        entries=head.entries,
        head=head.hash,
        first=head.first_hash,
        recorded_at=head.recorded_at,
    )


def _make_folder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise ArchiveFault(f"{folder} is a file. Name a folder to write the archive into.")
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise in_words(error, folder) from error


def _forget_unfinished(folder: Path) -> None:
    """What an earlier backup left when the machine went down in it.

    Raises :class:`ArchiveFault` while one is being written: it holds its file's lock.
    """
    for path in folder.glob(f"brewhygiene-*{UNFINISHED}"):
        with contextlib.suppress(FileNotFoundError), path.open("rb") as file:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError as error:
                raise ArchiveFault(
                    f"Another backup is being written to {folder}. Wait until it has ended."
                ) from error
            path.unlink(missing_ok=True)


def _let_go(folder: Path, installation: str) -> list[Path]:
    old = to_remove(archives_in(folder, installation=installation))
    for kept in old:
        kept.path.unlink(missing_ok=True)
    return [kept.path for kept in old]


def _refuse_without_room(folder: Path) -> None:
    needed = RESERVE_BYTES + sum(
        path.stat().st_size for path in data_folder.files_to_keep(but_not=folder)
    )
    # Rows as text, packed, take about a third of what they take in the database.
    needed += data_folder.database_bytes() // 3
    free = shutil.disk_usage(folder).free
    if free < needed:
        raise NoRoom(
            f"There is not enough room in {folder}: the archive needs about "
            f"{digits(needed / 1e6, ',.0f')} MB, and {digits(free / 1e6, ',.0f')} MB are "
            "free. Make room there, or name "
            "another folder with --to. Nothing was written."
        )


# Writing


class _Writing:
    """The zip file while it grows, and what is in it so far."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self.archive = archive
        self.members: list[Member] = []
        self.names: set[str] = set()

    @contextlib.contextmanager
    def member(
        self, name: str, *, packed: bool = True, table: str = "", last_id: int = 0
    ) -> Iterator["_Counted"]:
        info = zipfile.ZipInfo(name, date_time=(1980, 1, 1, 0, 0, 0))
        info.compress_type = zipfile.ZIP_DEFLATED if packed else zipfile.ZIP_STORED
        info.external_attr = 0o600 << 16
        with self.archive.open(info, "w", force_zip64=True) as file:
            counted = _Counted(file)
            yield counted
        self.names.add(name)
        self.members.append(
            Member(
                name,
                counted.bytes,
                counted.hash.hexdigest(),
                table=table,
                rows=counted.rows,
                last_id=last_id,
            )
        )


class _Counted:
    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self.hash = hashlib.sha256()
        self.bytes = 0
        self.rows = 0

    def write(self, data: bytes) -> None:
        self._file.write(data)
        self.hash.update(data)
        self.bytes += len(data)


def _write(
    file: IO[bytes],
    *,
    now: datetime,
    passphrase: str,
    mine: data_folder.Installation,
    folder: Path,
) -> Manifest:
    sealed = SealedWriter(file, passphrase) if passphrase else None
    inner: Any = io.BufferedWriter(sealed, COPY_BYTES) if sealed else file
    with zipfile.ZipFile(inner, "w", compresslevel=6) as archive:
        writing = _Writing(archive)
        archive.writestr("READ ME.txt", READ_ME)
        # Before the rows, so that a photograph that is replaced meanwhile is in here; and once
        # more after them, for one that is new.
        _write_files(writing, folder)
        with snapshot() as alias:
            connection = connections[alias]
            applied = applied_migrations(connection)
            apps = _apps_at(applied)
            tables = tables_of(apps)
            last_ids = next_ids(tables, connection)
            for number, model in enumerate(tables, 1):
                _write_table(writing, model, number, alias, last_ids)
            brewery = _brewery_at(alias, apps)
            head = head_of(connection)
            named = _files_named(tables, alias)
        _write_files(writing, folder)
        manifest = Manifest(
            made_at=now.astimezone(UTC).isoformat(),
            version=__version__,
            brewery=brewery.name,
            time_zone=brewery.time_zone,
            installation=mine.id,
            database=connection.vendor,
            migrations=[list(key) for key in applied],
            head=head,
            members=writing.members,
            missing=sorted(named - writing.names),
            left_out=sorted(LEFT_OUT),
        )
        archive.writestr(MANIFEST, manifest.as_text(), zipfile.ZIP_DEFLATED)
    if sealed:
        inner.flush()
        sealed.finish()
        inner.detach()
    return manifest


def _apps_at(applied: list[tuple[str, str]]) -> Any:
    try:
        return apps_at(applied)
    except KeyError as error:
        raise ArchiveFault(
            f"A newer version has changed this database ({error.args[0][1]}). Install that "
            "version, or a later one, and back up with it."
        ) from error


def _write_files(writing: _Writing, folder: Path) -> None:
    top = data_folder.folder()
    listed = [
        (path, path.relative_to(top).as_posix())
        for path in data_folder.files_to_keep(but_not=folder)
    ]
    for path, inside in [*listed, *data_folder.keys_elsewhere()]:
        name = f"files/{inside}"
        if name in writing.names or not safe_name(name):
            continue
        try:
            source = path.open("rb")
        except FileNotFoundError:
            continue  # replaced since it was listed
        with source, writing.member(name, packed=path.suffix != ".jpg") as member:
            while block := source.read(COPY_BYTES):
                member.write(block)


def _write_table(
    writing: _Writing, model: Model, number: int, alias: str, last_ids: dict[str, int]
) -> None:
    table = model._meta.db_table
    columns = columns_of(model)
    names = column_names(model)
    writers = writers_of(columns)
    rows = (
        model._base_manager.using(alias)
        .order_by("pk")
        .values_list(*(field.attname for field in columns))
        .iterator(chunk_size=CHUNK)
    )
    name = f"tables/{number:03}-{table}.jsonl"
    with writing.member(name, table=table, last_id=last_ids.get(table, 0)) as member:
        for row in rows:
            values = [write(value) for write, value in zip(writers, row, strict=True)]
            member.write(line_of(names, values))
            member.rows += 1


def _brewery_at(alias: str, apps: Any) -> Any:
    model = apps.get_model("brewhygiene", "Brewery")
    return model._base_manager.using(alias).filter(pk=1).first() or Brewery(name="")


def head_of(connection: BaseDatabaseWrapper) -> Head:
    """The ledger's first and last entry, by its columns: whatever version wrote them. 3 queries."""
    entries = Entry.objects.using(connection.alias)
    last = entries.order_by("-id").values_list("hash", "recorded_at").first()
    if last is None:
        return Head()
    first = entries.order_by("id").values_list("hash", flat=True)[0]
    return Head(entries.count(), last[0], last[1].astimezone(UTC).isoformat(), first)


def _files_named(tables: list[Model], alias: str) -> set[str]:
    """The files that rows name, as the archive would call them."""
    media = Path(settings.MEDIA_ROOT)
    if not media.is_relative_to(data_folder.folder()):
        return set()
    place = "files/" + media.relative_to(data_folder.folder()).as_posix()
    found: set[str] = set()
    for model in tables:
        for field in columns_of(model):
            if isinstance(field, models.FileField):
                values = model._base_manager.using(alias).values_list(field.attname, flat=True)
                found |= {f"{place}/{name}" for name in values.iterator(CHUNK) if name}
    return found

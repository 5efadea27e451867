"""Open an archive, and find out whether all of it is there, before anything is done with it."""

import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from brewhygiene.archive.faults import ArchiveFault, Damaged, NotAnArchive, WrongPassphrase
from brewhygiene.archive.keeping import archives_in
from brewhygiene.archive.layout.manifest import MANIFEST, Manifest, Member, read_manifest
from brewhygiene.archive.layout.sealing import DAMAGED, SealedReader, is_sealed

LARGEST_MANIFEST_BYTES = 256 * 1024 * 1024
BLOCK_BYTES = 1024 * 1024
BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)


class Archive:
    """An opened archive."""

    def __init__(self, path: Path, zipped: zipfile.ZipFile, manifest: Manifest) -> None:
        self.path = path
        self.manifest = manifest
        self._zipped = zipped

    @contextmanager
    def open(self, member: Member) -> Iterator[IO[bytes]]:
        """Raises :class:`Damaged` where the member is not what the manifest says."""
        try:
            with self._zipped.open(member.name) as file:
                yield file
        except KeyError as error:
            raise Damaged(DAMAGED) from error
        except BROKEN as error:
            raise Damaged(DAMAGED) from error

    def blocks(self, member: Member) -> Iterator[bytes]:
        """What a member holds, checked against its size and hash by the time it ends."""
        found, size = hashlib.sha256(), 0
        with self.open(member) as file:
            while block := file.read(BLOCK_BYTES):
                size += len(block)
                if size > member.bytes:
                    raise Damaged(DAMAGED)
                found.update(block)
                yield block
        if size != member.bytes or found.hexdigest() != member.sha256:
            raise Damaged(DAMAGED)

    def rows(self, member: Member) -> Iterator[dict[str, Any]]:
        """The rows of a table."""
        rest = b""
        for block in self.blocks(member):
            *lines, rest = (rest + block).split(b"\n")
            for line in lines:
                yield _row(line)
        if rest:
            raise Damaged(DAMAGED)


def _row(line: bytes) -> dict[str, Any]:
    try:
        row = json.loads(line)
    except ValueError as error:
        raise Damaged(DAMAGED) from error
    if not isinstance(row, dict):
        raise Damaged(DAMAGED)
    return row


def archive_at(path: Path) -> Path:
    """The file that was named, or the newest archive of the folder that was named."""
    if path.is_dir():
        found = archives_in(path)
        if not found:
            raise NotAnArchive(f"There is no archive in {path}.")
        return found[-1].path
    if not path.exists():
        raise NotAnArchive(f"There is no file {path}.")
    return path


def is_encrypted(path: Path) -> bool:
    """Raises :class:`ArchiveFault` where the file cannot be read."""
    try:
        with path.open("rb") as file:
            return is_sealed(file)
    except OSError as error:
        raise ArchiveFault(f"{path} cannot be read ({error.strerror}).") from error


@contextmanager
def open_archive(path: Path, *, passphrase: str = "") -> Iterator[Archive]:
    """Open an archive, plain or encrypted, and read what it says of itself.

    Raises :class:`ArchiveFault` in words.
    """
    try:
        file = path.open("rb")
    except OSError as error:
        raise ArchiveFault(f"{path} cannot be read ({error.strerror}).") from error
    with file:
        inner: Any = file
        if is_sealed(file):
            if not passphrase:
                raise WrongPassphrase(
                    f"{path.name} is encrypted. Give its passphrase: type it when you are asked, "
                    "or name a file that holds it in BACKUP_PASSPHRASE_FILE."
                )
            inner = io.BufferedReader(SealedReader(file, passphrase), BLOCK_BYTES)
        with _unzipped(path, inner) as zipped:
            yield Archive(path, zipped, _manifest_of(path, zipped))


@contextmanager
def _unzipped(path: Path, file: Any) -> Iterator[zipfile.ZipFile]:
    file.seek(0)
    begins_as_zip = file.read(4) == b"PK\x03\x04"
    file.seek(0)
    try:
        zipped = zipfile.ZipFile(file)
    except BROKEN as error:
        if begins_as_zip:
            raise Damaged(DAMAGED) from error
        raise NotAnArchive(f"{path} is not an archive of this program.") from error
    except (ValueError, OSError) as error:
        raise Damaged(DAMAGED) from error
    with zipped:
        yield zipped


def _manifest_of(path: Path, zipped: zipfile.ZipFile) -> Manifest:
    try:
        info = zipped.getinfo(MANIFEST)
        if info.file_size > LARGEST_MANIFEST_BYTES:
            raise Damaged(DAMAGED)
        text = zipped.read(info)
    except KeyError as error:
        raise NotAnArchive(f"{path} is not an archive of this program.") from error
    except BROKEN as error:
        raise Damaged(DAMAGED) from error
    return read_manifest(text)


def verify(archive: Archive) -> None:
    """Read every member against its size, count and hash. Raises :class:`Damaged`."""
    for member in archive.manifest.members:
        lines = 0
        for block in archive.blocks(member):
            lines += block.count(b"\n") if member.table else 0
        if member.table and lines != member.rows:
            raise Damaged(DAMAGED)

"""What an archive says of itself: ``manifest.json``, written last."""

import dataclasses
import json
import re
from typing import Any

from brewhygiene.archive.faults import Damaged, TooNew
from brewhygiene.archive.layout.sealing import DAMAGED

FORMAT = 1
MANIFEST = "manifest.json"
_HASH = re.compile(r"[0-9a-f]{64}")


@dataclasses.dataclass(frozen=True)
class Member:
    """One file of the archive: its size and SHA-256, and of a table its rows and last id."""

    name: str
    bytes: int
    sha256: str
    table: str = ""
    rows: int = 0
    last_id: int = 0


@dataclasses.dataclass(frozen=True)
class Head:
    """The ledger's last entry. ``recorded_at`` as ISO 8601 in UTC, '' where there is none."""

    entries: int = 0
    hash: str = ""
    recorded_at: str = ""
    first_hash: str = ""


@dataclasses.dataclass(frozen=True)
class Manifest:
    made_at: str
    version: str
    brewery: str
    time_zone: str
    installation: str
    database: str
    migrations: list[list[str]]
    head: Head
    members: list[Member]
    missing: list[str]
    left_out: list[str]
    format: int = FORMAT

    @property
    def tables(self) -> list[Member]:
        return [member for member in self.members if member.table]

    @property
    def files(self) -> list[Member]:
        """Of the data folder."""
        return [member for member in self.members if member.name.startswith("files/")]

    def as_text(self) -> str:
        return json.dumps(dataclasses.asdict(self), indent=1, ensure_ascii=False) + "\n"


def read_manifest(text: bytes) -> Manifest:
    """Raises :class:`Damaged`, or :class:`TooNew` for a layout of a later version."""
    try:
        given: dict[str, Any] = json.loads(text)
        if given["format"] > FORMAT:
            raise TooNew(
                f"This archive was made by a newer version ({given['version']}). "
                "Install that version, or a later one, and restore with it."
            )
        members = [Member(**member) for member in given.pop("members")]
        head = Head(**given.pop("head"))
        manifest = Manifest(**given, head=head, members=members)
        _check(manifest)
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise Damaged(DAMAGED) from error
    return manifest


def _check(manifest: Manifest) -> None:
    """Raises ``ValueError`` for what no backup writes, such as a path out of the folder."""
    names = [member.name for member in manifest.members]
    if len(set(names)) != len(names):
        raise ValueError("a name twice")
    for member in manifest.members:
        if not safe_name(member.name) or not _HASH.fullmatch(member.sha256):
            raise ValueError("no member of ours")
        if min(member.bytes, member.rows, member.last_id) < 0:
            raise ValueError("negative")
    for app, name in manifest.migrations:
        if "" in (app.strip(), name.strip()):
            raise ValueError("no migration")


def safe_name(name: str) -> bool:
    """Whether a name stays inside the archive's own folders on every system."""
    parts = name.split("/")
    return (
        parts[0] in ("files", "tables")
        and len(parts) > 1
        and all(part not in ("", ".", "..") and "\0" not in part for part in parts)
        and "\\" not in name
        and ":" not in parts[1]
    )

"""What is no archive, not whole, or of a newer version writes nothing."""

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from brewhygiene.archive.faults import (
    Damaged,
    NotAnArchive,
    TooNew,
    WrongPassphrase,
)
from brewhygiene.archive.layout import sealing
from brewhygiene.archive.restoring import restore_archive
from brewhygiene.archive.writing import Made
from brewhygiene.ledger.models import Entry
from tests.archive.conftest import (
    ENTRIES,
    FILES,
    HEAD,
    PASSPHRASE,
    nothing_in,
)


def test_missing_file_and_folder_without_archives_are_named(tmp_path: Path) -> None:
    for path, words in (
        (tmp_path / "missing.zip", f"There is no file {tmp_path}/missing.zip."),
        (tmp_path, f"There is no archive in {tmp_path}."),
    ):
        with pytest.raises(CommandError) as refused:
            call_command("restore", str(path))
        assert str(refused.value) == words


def test_folder_gives_its_newest(archive: Made, empty: Path) -> None:
    old = archive.path.with_name(archive.path.name.replace("20260316", "20260315"))
    old.write_bytes(b"never opened")
    call_command("restore", str(archive.path.parent), verbosity=0)
    assert Entry.objects.order_by("id")[ENTRIES - 1].hash == HEAD


@pytest.mark.parametrize(
    "content", [b"", b"\0" * 5000, b"PK", b"a text\n" * 100], ids=["empty", "zeros", "two", "text"]
)
def test_file_of_something_else_is_no_archive(tmp_path: Path, empty: Path, content: bytes) -> None:
    path = tmp_path / "other.zip"
    path.write_bytes(content)
    with pytest.raises(NotAnArchive) as refused:
        restore_archive(path)
    assert str(refused.value) == f"{path} is not an archive of this program."
    assert nothing_in(empty)


def test_zip_file_of_something_else_is_no_archive(tmp_path: Path, empty: Path) -> None:
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as other:
        other.writestr("holiday.txt", "sun")
    with pytest.raises(NotAnArchive):
        restore_archive(tmp_path / "other.zip")


@pytest.mark.parametrize("part", [0.001, 0.1, 0.5, 0.9, 0.999])
def test_archive_cut_in_half_writes_nothing(archive: Made, empty: Path, part: float) -> None:
    content = archive.path.read_bytes()
    archive.path.write_bytes(content[: int(len(content) * part)])
    with pytest.raises(Damaged) as refused:
        restore_archive(archive.path)
    assert str(refused.value) == sealing.DAMAGED
    assert nothing_in(empty)


@pytest.mark.parametrize("part", [0.1, 0.5, 0.999])
def test_encrypted_archive_cut_in_half_writes_nothing(
    sealed: Made, empty: Path, part: float
) -> None:
    content = sealed.path.read_bytes()
    sealed.path.write_bytes(content[: int(len(content) * part)])
    with pytest.raises(Damaged):
        restore_archive(sealed.path, passphrase=PASSPHRASE)
    assert nothing_in(empty)


def test_other_passphrase_and_none_are_told_apart(sealed: Made, empty: Path) -> None:
    with pytest.raises(WrongPassphrase) as other:
        restore_archive(sealed.path, passphrase="another passphrase")
    assert str(other.value) == sealing.WRONG
    with pytest.raises(WrongPassphrase, match=r"is encrypted\. Give its passphrase"):
        restore_archive(sealed.path)
    assert nothing_in(empty)


Change = Callable[[dict[str, bytes]], None]


def rewritten(path: Path, change: Change) -> Path:
    """The archive with some of its members changed, its zip file whole."""
    with zipfile.ZipFile(path) as zipped:
        members = {name: zipped.read(name) for name in zipped.namelist()}
    change(members)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as zipped:
        for name, content in members.items():
            zipped.writestr(name, content)
    return path


def in_manifest(change: Callable[[dict[str, Any]], None]) -> Change:
    def run(members: dict[str, bytes]) -> None:
        manifest = json.loads(members["manifest.json"])
        change(manifest)
        members["manifest.json"] = json.dumps(manifest).encode()

    return run


def entries_member(members: dict[str, bytes]) -> str:
    return next(name for name in members if name.endswith("-brewhygiene_entry.jsonl"))


def changed_row(members: dict[str, bytes]) -> None:
    name = entries_member(members)
    members[name] = members[name].replace(b"Mara Oduya", b"Mora Oduya", 1)


def lost_photo(members: dict[str, bytes]) -> None:
    del members[FILES[1]]


def forged(members: dict[str, bytes]) -> None:
    """A changed row with a manifest to match: the ledger's own chain finds it."""
    changed_row(members)
    name = entries_member(members)
    manifest = json.loads(members["manifest.json"])
    for member in manifest["members"]:
        if member["name"] == name:
            member["sha256"] = hashlib.sha256(members[name]).hexdigest()
    members["manifest.json"] = json.dumps(manifest).encode()


def out_of_the_folder(manifest: dict[str, Any]) -> None:
    manifest["members"][0]["name"] = "files/../../../stolen"


def twice(manifest: dict[str, Any]) -> None:
    manifest["members"].append(manifest["members"][0])


def fewer_rows(manifest: dict[str, Any]) -> None:
    next(member for member in manifest["members"] if member["rows"])["rows"] -= 1


def other_head(manifest: dict[str, Any]) -> None:
    manifest["head"]["hash"] = "0" * 64


def no_members(manifest: dict[str, Any]) -> None:
    del manifest["members"]


@pytest.mark.parametrize(
    "change",
    [
        changed_row,
        lost_photo,
        forged,
        in_manifest(out_of_the_folder),
        in_manifest(twice),
        in_manifest(fewer_rows),
        in_manifest(other_head),
        in_manifest(no_members),
    ],
    ids=[
        "row",
        "photo",
        "forged",
        "path",
        "twice",
        "rows",
        "head",
        "members",
    ],
)
def test_changed_archive_writes_nothing(
    archive: Made, empty: Path, tmp_path: Path, change: Change
) -> None:
    rewritten(archive.path, change)
    with pytest.raises(Damaged):
        restore_archive(archive.path)
    assert nothing_in(empty)
    assert not (tmp_path / "stolen").exists()


def newer_layout(manifest: dict[str, Any]) -> None:
    manifest["format"] = 2
    manifest["version"] = "9.1.0"
    manifest["something"] = "new"


def newer_tables(manifest: dict[str, Any]) -> None:
    manifest["version"] = "9.1.0"
    manifest["migrations"].append(["brewhygiene", "0999_weigh_the_yeast"])


@pytest.mark.parametrize(
    "change, words",
    [
        (newer_layout, "made by a newer version (9.1.0). Install that version"),
        (newer_tables, "made by a newer version (9.1.0, with 0999_weigh_the_yeast). Install"),
    ],
)
def test_archive_of_a_newer_version_names_it(
    archive: Made, empty: Path, change: Callable[[dict[str, Any]], None], words: str
) -> None:
    rewritten(archive.path, in_manifest(change))
    with pytest.raises(TooNew) as refused:
        restore_archive(archive.path)
    assert words in str(refused.value)
    assert nothing_in(empty)

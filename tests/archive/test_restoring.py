"""An archive comes back: the same rows, files and ledger; or nothing at all."""

import hashlib
import json
import os
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from brewhygiene.archive import data_folder, empty_place, restoring
from brewhygiene.archive.faults import (
    ArchiveFault,
    Damaged,
    NoRoom,
    NotAnArchive,
    PlaceInUse,
    TooNew,
    WrongPassphrase,
)
from brewhygiene.archive.layout import sealing
from brewhygiene.archive.restoring import restore_archive
from brewhygiene.archive.writing import Made, make_archive
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import check_chain
from brewhygiene.people.models import User
from brewhygiene.turnarounds.models import Turnaround
from tests.archive.conftest import (
    ENTRIES,
    FILES,
    HEAD,
    NOW,
    PASSPHRASE,
    STORY,
    Places,
    everything_in,
)
from tests.databases import load_sql


def tables_of(path: Path) -> dict[str, bytes]:
    """What an archive has in its tables, by name."""
    with zipfile.ZipFile(path) as zipped:
        return {name: zipped.read(name) for name in zipped.namelist() if name.startswith("tables/")}


def nothing_in(folder: Path) -> bool:
    return not folder.exists() or not any(folder.iterdir())


@pytest.mark.own_tables
def test_everything_comes_back(archive: Made, empty: Path) -> None:
    restored = restore_archive(archive.path)
    assert restored.files == 3
    assert Entry.objects.order_by("id")[ENTRIES - 1].hash == HEAD
    assert check_chain() is None
    assert Brewery.current().name == "Kestrel & Tarn (invented)"
    for name in FILES:
        inside = name.removeprefix("files/")
        assert (empty / inside).read_bytes() == (STORY / inside).read_bytes()
    assert (empty / "secret_key").read_text() == "invented-key"
    assert sorted(path.name for path in empty.iterdir() if "sqlite3-" not in path.name) == [
        "brewhygiene.sqlite3",
        "installation.json",
        "photos",
        "secret_key",
    ]


def test_second_archive_of_what_came_back_is_the_same(archive: Made, empty: Path) -> None:
    restore_archive(archive.path)
    again = make_archive(now=NOW)
    assert tables_of(again.path) == tables_of(archive.path)
    assert again.manifest.members == archive.manifest.members
    assert again.manifest.installation == archive.manifest.installation


def test_pages_open_and_the_ledger_goes_on(archive: Made, empty: Path) -> None:
    restore_archive(archive.path)
    client = Client()
    client.force_login(User.objects.get(full_name="Mara Oduya"))
    for turnaround in Turnaround.objects.all():
        page = client.get(reverse("board:turnaround", args=[turnaround.pk]))
        assert page.status_code == 200
    before = Entry.objects.count()
    answer = client.post(
        reverse("cellar:beer_add"), {"name": "New beer", "style": "", "yeast": "", "notes": ""}
    )
    assert answer.status_code == 302
    assert Entry.objects.count() == before + 1
    assert check_chain() is None


def test_ids_are_never_given_again(places: Places, tmp_path: Path) -> None:
    with places.at(places.story()):
        spare = Vessel.objects.create(name="Spare", kind="fermenter", volume_hl=1)
        gone = spare.pk
        spare.delete()
        made = make_archive(now=NOW)
    with places.at(tmp_path / "empty"):
        restore_archive(made.path)
        new = Vessel.objects.create(name="New", kind="fermenter", volume_hl=1)
        assert new.pk == gone + 1


def test_nobody_is_signed_in_afterwards(places: Places, tmp_path: Path) -> None:
    with places.at(places.story()):
        client = Client()
        client.force_login(User.objects.get(full_name="Mara Oduya"))
        assert client.get("/").status_code == 200
        made = make_archive(now=NOW)
    with places.at(tmp_path / "empty"):
        restore_archive(made.path)
        assert client.get("/").status_code == 302


def test_encrypted_archive_comes_back(sealed: Made, empty: Path) -> None:
    restore_archive(sealed.path, passphrase=PASSPHRASE)
    assert Entry.objects.order_by("id")[ENTRIES - 1].hash == HEAD


@pytest.mark.own_tables
def test_archive_of_an_older_version_is_migrated(places: Places, tmp_path: Path) -> None:
    """Made while the tables were as the old version had them."""
    folder = tmp_path / "old"
    folder.mkdir()
    load_sql(STORY / "database.sql", folder / "brewhygiene.sqlite3")
    with places.at(folder):
        made = make_archive(now=NOW)
    ours = [name for app, name in made.manifest.migrations if app == "brewhygiene"]
    assert ours[-1] == "0003_find_fills_without_release"
    with places.at(tmp_path / "empty"):
        restore_archive(made.path)
        call_command("migrate", check_unapplied=True, verbosity=0)
        assert Entry.objects.order_by("id")[ENTRIES - 1].hash == HEAD
        assert check_chain() is None


def test_archive_may_lie_in_the_folder_it_is_restored_into(
    archive: Made, places: Places, tmp_path: Path
) -> None:
    folder = tmp_path / "new"
    (folder / "backups").mkdir(parents=True)
    there = folder / "backups" / archive.path.name
    there.write_bytes(archive.path.read_bytes())
    with places.at(folder):
        restore_archive(there)
        assert there.exists()
        assert Entry.objects.order_by("id")[ENTRIES - 1].hash == HEAD


def test_database_that_was_made_and_never_used_is_taken(
    archive: Made, empty: Path, empty_tables: Path
) -> None:
    empty.mkdir()
    shutil.copy(empty_tables, empty / "brewhygiene.sqlite3")
    restore_archive(archive.path)
    assert Entry.objects.order_by("id")[ENTRIES - 1].hash == HEAD


# --- a place that is in use ----------------------------------------------------------------------


def test_other_brewery_is_not_overwritten(archive: Made, story: Path) -> None:
    for name in ("photos/vessels/9d462ee95b08609b.jpg", "photos/traces/4-016f6b46bd4d.log"):
        (story / name).unlink()
    (story / "secret_key").unlink()
    before = everything_in(story)
    with pytest.raises(PlaceInUse) as refused:
        restore_archive(archive.path)
    assert str(refused.value) == (
        "The database sqlite:brewhygiene.sqlite3 is in use: "
        "“Kestrel & Tarn (invented)” is in it "
        "already. Nothing is ever overwritten: name an empty database, or an empty folder as "
        "DATA_DIR."
    )
    assert everything_in(story).keys() >= before.keys()
    assert everything_in(story)["brewhygiene.sqlite3"] == before["brewhygiene.sqlite3"]


@pytest.mark.parametrize("name", ["photos/vessels/a.jpg", "secret_key", "ledger_key/key.pem"])
def test_files_of_somebody_are_not_overwritten(archive: Made, empty: Path, name: str) -> None:
    (empty / name).parent.mkdir(parents=True, exist_ok=True)
    (empty / name).write_text("somebody's")
    with pytest.raises(PlaceInUse, match=f"is in use: {name} is there already"):
        restore_archive(archive.path)
    assert everything_in(empty) == {name: b"somebody's"}


def test_folder_that_lost_its_database_is_not_empty(archive: Made, empty: Path) -> None:
    empty.mkdir()
    data_folder.write_marker(data_folder.Installation(id="7" * 32, entries=9))
    with pytest.raises(PlaceInUse, match=r"installation\.json is there already"):
        restore_archive(archive.path)


def test_file_in_the_folders_place_is_refused(
    archive: Made, places: Places, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("mine")
    with places.at(tmp_path / "file"), pytest.raises(PlaceInUse, match="is a file"):
        restore_archive(archive.path)
    assert (tmp_path / "file").read_text() == "mine"


def test_database_of_something_else_is_not_overwritten(archive: Made, empty: Path) -> None:
    empty.mkdir()
    (empty / "brewhygiene.sqlite3").write_bytes(b"this is no database at all, but a text" * 50)
    with pytest.raises(ArchiveFault, match="cannot be used"):
        restore_archive(archive.path)
    assert set(everything_in(empty)) == {"brewhygiene.sqlite3"}


# --- an archive that is none, or not whole --------------------------------------------------------


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


# --- something fails on the way -----------------------------------------------------------------


def test_no_room_is_said_before_anything_is_written(
    archive: Made, empty: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(empty_place, "RESERVE_BYTES", 10**18)
    with pytest.raises(NoRoom, match="There is not enough room in"):
        restore_archive(archive.path)
    assert nothing_in(empty)


class PowerCut(BaseException):
    """Nothing catches it by mistake."""


@pytest.mark.parametrize(
    "place",
    ["_unpack_files", "insert_rows", "_refuse_other_ledger", "rename"],
)
def test_failure_on_the_way_leaves_nothing(
    archive: Made, empty: Path, monkeypatch: pytest.MonkeyPatch, place: str
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise PowerCut

    if place == "rename":
        rename = Path.rename

        def all_but_the_database(self: Path, target: Path) -> Path:
            if target.name == "brewhygiene.sqlite3":
                raise PowerCut
            return rename(self, target)

        monkeypatch.setattr(Path, "rename", all_but_the_database)
    else:
        monkeypatch.setattr(restoring, place, fail)
    with pytest.raises(PowerCut):
        restore_archive(archive.path)
    assert nothing_in(empty)


@pytest.fixture
def small_files() -> Callable[..., subprocess.CompletedProcess[str]]:
    """Run a command in a process whose files may not grow beyond a size: a full disk."""

    def run(*arguments: str, data_dir: Path, kib: int) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["sh", "-c", f'ulimit -f {kib * 2} && exec "$0" "$@"', sys.executable, *arguments],
            cwd=Path(__file__).parents[2],
            # Not even a compiled module may be cut short, for every other process would read it.
            env={
                "PATH": os.environ["PATH"],
                "DATA_DIR": str(data_dir),
                "PYTHONDONTWRITEBYTECODE": "1",
            },
            capture_output=True,
            text=True,
            check=False,
        )

    return run


def test_restore_onto_a_full_disk_says_so_and_leaves_nothing(
    archive: Made, tmp_path: Path, small_files: Callable[..., subprocess.CompletedProcess[str]]
) -> None:
    folder = tmp_path / "full"
    outcome = small_files("manage.py", "restore", str(archive.path), data_dir=folder, kib=300)
    assert outcome.returncode == 1
    assert outcome.stderr.startswith("CommandError: ")
    assert "Nothing was written" in outcome.stderr
    assert nothing_in(folder)


def test_backup_onto_a_full_disk_says_so_and_leaves_nothing(
    places: Places, tmp_path: Path, small_files: Callable[..., subprocess.CompletedProcess[str]]
) -> None:
    folder = places.story()
    before = everything_in(folder)
    outcome = small_files(
        "manage.py", "backup", "--to", str(tmp_path / "stick"), data_dir=folder, kib=40
    )
    assert outcome.returncode == 1
    assert outcome.stderr == (
        f"CommandError: There is no room left in {tmp_path}/stick. Make room there, or name "
        "another folder with --to. Nothing was written.\n"
    )
    assert nothing_in(tmp_path / "stick")
    assert everything_in(folder)["brewhygiene.sqlite3"] == before["brewhygiene.sqlite3"]


def test_restored_file_is_a_plain_database(archive: Made, empty: Path) -> None:
    """One file: nothing of it is left in a journal beside it."""
    restore_archive(archive.path)
    with closing(sqlite3.connect(f"file:{empty}/brewhygiene.sqlite3?immutable=1", uri=True)) as it:
        assert it.execute("SELECT COUNT(*) FROM brewhygiene_entry").fetchone()[0] >= ENTRIES
        assert it.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert it.execute("PRAGMA foreign_key_check").fetchall() == []

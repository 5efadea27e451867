"""What is in an archive, read by tools that know nothing of this program."""

import fcntl
import hashlib
import json
import os
import shutil
import stat
import subprocess
import zipfile
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import connection

from brewhygiene.archive import data_folder, writing
from brewhygiene.archive.faults import ArchiveFault, NoRoom
from brewhygiene.archive.layout.tables import LEFT_OUT
from brewhygiene.archive.writing import make_archive
from brewhygiene.atp.meters.actions import record_control_check
from brewhygiene.atp.models.meters import ControlCheck, Meter
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import check_chain
from brewhygiene.people.models import User
from tests.archive.conftest import ENTRIES, FILES, NOW, PASSPHRASE, everything_in
from tests.factories import acting


def unzipped(path: Path, into: Path) -> Path:
    subprocess.run(["unzip", "-q", path, "-d", into], check=True)
    return into


def test_archive_is_read_by_unzip_and_json(story: Path, tmp_path: Path) -> None:
    made = make_archive(now=NOW)
    assert made.path.parent == story / "backups"
    subprocess.run(["unzip", "-tq", made.path], check=True, stdout=subprocess.DEVNULL)
    there = unzipped(made.path, tmp_path / "unzipped")
    manifest = json.loads((there / "manifest.json").read_text())
    for member in manifest["members"]:
        content = (there / member["name"]).read_bytes()
        assert len(content) == member["bytes"]
        assert hashlib.sha256(content).hexdigest() == member["sha256"]
        if member["table"]:
            rows = [json.loads(line) for line in content.splitlines()]
            assert len(rows) == member["rows"]
    assert manifest["head"]["entries"] == Entry.objects.count() >= ENTRIES
    assert manifest["head"]["hash"] == Entry.objects.order_by("-id")[0].hash
    assert (manifest["brewery"], manifest["time_zone"]) == (
        "Kestrel & Tarn (invented)",
        "Europe/Copenhagen",
    )
    assert manifest["made_at"] == "2026-03-16T12:00:00+00:00"
    assert ["brewhygiene", "0003_find_fills_without_release"] in manifest["migrations"]
    assert (there / "READ ME.txt").read_text().startswith("This is an archive of brewhygiene")


def test_every_table_and_row_is_in_it(story: Path) -> None:
    """By the models themselves: a new table cannot be forgotten."""
    manifest = make_archive(now=NOW).manifest
    tables = {
        model._meta.db_table: model._base_manager.count()
        for model in apps.get_models(include_auto_created=True)
    }
    left_out = {
        "django_session",
        "axes_accessattempt",
        "axes_accessattemptexpiration",
    }
    assert left_out == LEFT_OUT
    assert {member.table: member.rows for member in manifest.tables} == {
        table: rows for table, rows in tables.items() if table not in left_out
    }
    assert manifest.left_out == sorted(left_out)


def test_rows_come_after_those_they_point_to(story: Path) -> None:
    order = [member.table for member in make_archive(now=NOW).manifest.tables]
    for model in apps.get_models(include_auto_created=True):
        for field in model._meta.local_concrete_fields:
            if field.remote_field and model._meta.db_table in order:
                target = field.remote_field.model._meta.db_table
                if target != model._meta.db_table:
                    assert order.index(target) < order.index(model._meta.db_table)


def test_files_and_keys_are_in_it_and_nothing_else_of_the_folder(
    story: Path, tmp_path: Path
) -> None:
    (story / "static").mkdir()
    (story / "static" / "house.css").write_text("rebuilt by every start")
    (story / "ledger_key").mkdir()
    (story / "ledger_key" / "key.pem").write_text("invented")
    (story / ".half-written").write_text("of another process")
    (story / "photos" / "link.jpg").symlink_to("/etc/hostname")
    first = make_archive(now=NOW)
    second = make_archive(now=NOW + timedelta(days=1))
    for made in (first, second):
        names = [member.name for member in made.manifest.files]
        assert names == ["files/ledger_key/key.pem", *FILES, "files/secret_key"]
    with zipfile.ZipFile(second.path) as zipped:
        assert zipped.read(FILES[1]) == (story / FILES[1].removeprefix("files/")).read_bytes()
        assert zipped.read("files/secret_key") == b"invented-key"


def test_key_that_lies_apart_is_in_it(story: Path, tmp_path: Path, settings: Any) -> None:
    settings.LEDGER_KEY_DIR = tmp_path / "apart"
    settings.LEDGER_KEY_DIR.mkdir()
    (settings.LEDGER_KEY_DIR / "key.pem").write_text("invented")
    made = make_archive(now=NOW)
    names = [member.name for member in made.manifest.files]
    assert sorted(names) == ["files/ledger_key/key.pem", *FILES, "files/secret_key"]


def test_missing_photograph_is_named(story: Path) -> None:
    (story / "photos" / "vessels" / "9d462ee95b08609b.jpg").unlink()
    manifest = make_archive(now=NOW).manifest
    assert manifest.missing == [FILES[1]]
    assert FILES[1] not in [member.name for member in manifest.files]


def test_photograph_that_is_replaced_meanwhile_is_in_it(
    story: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Old and new: rows may name either."""
    old = story / "photos" / "vessels" / "9d462ee95b08609b.jpg"
    write_table = writing._write_table

    def replaced_in_between(*args: Any) -> None:
        if old.exists():
            old.rename(old.with_name("new.jpg"))
        write_table(*args)

    monkeypatch.setattr(writing, "_write_table", replaced_in_between)
    manifest = make_archive(now=NOW).manifest
    names = {member.name for member in manifest.files}
    assert {FILES[1], "files/photos/vessels/new.jpg"} < names
    assert manifest.missing == []


def test_archive_is_one_moment_while_others_write(
    story: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Entries recorded between two tables are in none of them; and nobody waits for the backup."""
    hand, meter = User.objects.get(full_name="Jonas Feld"), Meter.objects.order_by("pk")[0]
    entries, checks = Entry.objects.count(), ControlCheck.objects.count()
    write_table = writing._write_table
    recorded: list[int] = []

    def record() -> None:
        when = NOW + timedelta(days=len(recorded))
        done = record_control_check(
            by=acting(hand, now=when), meter=meter, blank_rlu=0, positive_rlu=200
        )
        recorded.append(done.pk)

    def with_a_writer(*args: Any) -> None:
        record()
        write_table(*args)

    monkeypatch.setattr(writing, "_write_table", with_a_writer)
    manifest = make_archive(now=NOW).manifest
    rows = {member.table: member.rows for member in manifest.tables}
    assert len(recorded) == len(manifest.tables)
    # The first was recorded before anything was read.
    assert rows["brewhygiene_entry"] == manifest.head.entries
    assert rows["brewhygiene_entry"] - entries == rows["brewhygiene_controlcheck"] - checks
    assert rows["brewhygiene_entry"] - entries <= 1
    assert check_chain() is None


def test_only_the_servers_account_can_read_it(story: Path, tmp_path: Path) -> None:
    old = os.umask(0)
    try:
        data_folder.owner_only()
        made = make_archive(now=NOW, to=tmp_path / "elsewhere" / "deep")
    finally:
        os.umask(old)
    assert stat.S_IMODE(made.path.stat().st_mode) == 0o600
    assert stat.S_IMODE(made.path.parent.stat().st_mode) == 0o700


def test_encrypted_archive_shows_nothing(story: Path) -> None:
    made = make_archive(now=NOW, passphrase=PASSPHRASE)
    content = made.path.read_bytes()
    assert made.path.name.endswith(".zip.sealed")
    assert b"PK\x03\x04" not in content[:1000]
    for word in (b"Quenlarrow", b"secret_key", b"tables/"):
        assert word not in content


def test_old_archives_go_by_age_where_they_are_kept_only(story: Path, tmp_path: Path) -> None:
    first = make_archive(now=NOW)
    other = first.path.with_name(first.path.name.replace(first.path.name[12:20], "77777777"))
    shutil.copy(first.path, other)
    elsewhere = make_archive(now=NOW, to=tmp_path / "stick")
    later = make_archive(now=NOW + timedelta(hours=1))
    assert later.removed == [first.path]
    again = make_archive(now=NOW + timedelta(hours=2), to=tmp_path / "stick")
    assert again.removed == []
    there = {path.name for path in (story / "backups").iterdir()}
    assert there == {other.name, later.path.name}
    assert elsewhere.path.exists()


def test_folder_remembers_whose_it_is_and_how_far_it_came(story: Path) -> None:
    assert data_folder.read_marker() is None
    made = make_archive(now=NOW)
    marker = data_folder.read_marker()
    assert marker is not None
    assert marker.id == made.manifest.installation
    assert (marker.entries, marker.head) == (made.manifest.head.entries, made.manifest.head.hash)
    assert marker.database == "sqlite:brewhygiene.sqlite3"
    assert make_archive(now=NOW + timedelta(days=1)).manifest.installation == marker.id


def test_last_ids_are_kept_also_where_the_row_is_gone(story: Path) -> None:
    """An id is never given twice: the ledger names rows by it."""
    spare = Vessel.objects.create(name="Spare", kind="fermenter", volume_hl=1)
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM brewhygiene_vessel WHERE id = %s", [spare.pk])
    ids = {member.table: member.last_id for member in make_archive(now=NOW).manifest.tables}
    assert ids["brewhygiene_vessel"] == spare.pk
    assert ids["auth_group"] >= 3


# What cannot be written


def test_no_room_is_said_before_anything_is_written(
    story: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writing, "RESERVE_BYTES", 10**18)
    before = everything_in(story)
    with pytest.raises(NoRoom, match=r"^There is not enough room in .*: the archive needs about"):
        make_archive(now=NOW)
    assert everything_in(story) == before


def test_file_in_the_folders_place_is_refused(story: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(ArchiveFault, match=r"is a file\. Name a folder"):
        make_archive(now=NOW, to=tmp_path / "file")
    assert (tmp_path / "file").read_text() == "mine"


def test_unfinished_archive_of_a_machine_that_went_down_is_forgotten(story: Path) -> None:
    (story / "backups").mkdir()
    left = story / "backups" / "brewhygiene-4f2a9c01-20260316T031500Z.zip.unfinished"
    left.write_bytes(b"PK\x03\x04 half")
    made = make_archive(now=NOW)
    assert list((story / "backups").iterdir()) == [made.path]


def test_archive_that_cannot_be_read_back_is_none(
    story: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A disk that takes what it is given and keeps something else."""
    before = everything_in(story)
    monkeypatch.setattr(writing._Counted, "write", lambda self, data: self._file.write(data[:-1]))
    with pytest.raises(ArchiveFault):
        make_archive(now=NOW)
    assert everything_in(story) == before


def test_second_backup_waits_for_the_first(story: Path) -> None:
    (story / "backups").mkdir()
    draft = story / "backups" / "brewhygiene-4f2a9c01-20260316T031500Z.zip.unfinished"
    with draft.open("xb") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        before = everything_in(story)
        with pytest.raises(ArchiveFault, match="Another backup is being written"):
            make_archive(now=NOW)
        assert everything_in(story) == before
    make_archive(now=NOW)
    assert not draft.exists()

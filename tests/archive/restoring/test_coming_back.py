"""An archive comes back: the same rows, files and ledger."""

import shutil
import zipfile
from pathlib import Path

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

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
)
from tests.databases import load_sql


def tables_of(path: Path) -> dict[str, bytes]:
    """What an archive has in its tables, by name."""
    with zipfile.ZipFile(path) as zipped:
        return {name: zipped.read(name) for name in zipped.namelist() if name.startswith("tables/")}


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

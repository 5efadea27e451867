"""A start that finds another database than its folder's, or none, fills in nothing."""

import dataclasses
import shutil
import stat
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from brewhygiene.archive import data_folder, starting
from brewhygiene.archive.data_folder import Installation
from brewhygiene.archive.faults import ArchiveFault, PlaceInUse
from brewhygiene.archive.keeping import archives_in
from brewhygiene.archive.writing import make_archive
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from tests.archive.conftest import NOW, STORY, Places
from tests.databases import load_sql


@pytest.fixture(autouse=True)
def _new_key(settings: Any) -> None:
    settings.SECRET_KEY_IS_NEW = True


def migrate() -> None:
    call_command("migrate", interactive=False, verbosity=0)


_tables: list[Path] = []


@pytest.fixture(autouse=True)
def _with_tables(empty_tables: Path) -> None:
    _tables[:] = [empty_tables]


def start(*, demo: bool = True) -> starting.Found:
    """What the server does before its first page; a new database gets its tables by copying."""
    starting.refuse_unusable_folder()
    starting.refuse_interrupted_restore()
    starting.begin(now=NOW, demo=demo)
    starting.refuse_damaged_database()
    if not data_folder.sqlite_bytes():
        shutil.copy(_tables[0], data_folder.database_path())
    return starting.look(now=NOW)


def marker() -> Installation:
    found = data_folder.read_marker()
    assert found is not None
    return found


def test_very_first_start_fills_in_the_invented_brewery(empty: Path) -> None:
    assert start() == starting.Found(set_up=False, fill_demo=True, warnings=[])
    assert marker().begun_at == NOW.isoformat()


def test_first_start_that_was_broken_off_is_begun_again(empty: Path, settings: Any) -> None:
    start()
    settings.SECRET_KEY_IS_NEW = False
    (empty / "secret_key").write_text("made by the first start")
    assert start().fill_demo


def test_start_without_it_stays_without(empty: Path, settings: Any) -> None:
    assert not start(demo=False).fill_demo
    settings.SECRET_KEY_IS_NEW = False
    assert start(demo=True) == starting.Found(set_up=False, fill_demo=False, warnings=[])


def test_own_brewery_is_remembered(story: Path) -> None:
    assert start() == starting.Found(set_up=True, fill_demo=False, warnings=[])
    count = Entry.objects.count()
    assert (marker().entries, marker().head) == (count, Entry.objects.order_by("-id")[0].hash)
    assert marker().first == Entry.objects.order_by("id")[0].hash
    assert start().warnings == []


def lost_database(places: Places) -> Path:
    folder = places.story("lost")
    with places.at(folder):
        start()
    for path in folder.glob("brewhygiene.sqlite3*"):
        path.unlink()
    return folder


def test_folder_that_lost_its_database_is_refused(places: Places) -> None:
    folder = lost_database(places)
    with places.at(folder):
        with pytest.raises(PlaceInUse) as refused:
            start()
        assert f"and {folder} belongs to one with " in str(refused.value)
        assert str(refused.value).endswith("Nothing was filled in.")
        assert not Brewery.objects.exists()


@pytest.mark.parametrize("left", ["photos/vessels/a.jpg", "backups"])
def test_photographs_or_archives_without_a_database_are_somebodys(
    places: Places, left: str
) -> None:
    """A folder of an earlier version, which remembered nothing."""
    folder = places.tmp_path / "old"
    if left == "backups":
        with places.at(places.story()):
            made = make_archive(now=NOW)
        (folder / left).mkdir(parents=True)
        shutil.copy(made.path, folder / left)
    else:
        (folder / left).parent.mkdir(parents=True)
        (folder / left).write_bytes(b"picture")
    with places.at(folder):
        with pytest.raises(PlaceInUse, match=r"somebody's data.*Nothing was filled in\."):
            start()
        assert not Brewery.objects.exists()


def test_key_of_an_earlier_start_alone_fills_in_nothing(empty: Path, settings: Any) -> None:
    empty.mkdir()
    (empty / "secret_key").write_text("older than this process")
    settings.SECRET_KEY_IS_NEW = False
    assert start() == starting.Found(set_up=False, fill_demo=False, warnings=[])


def test_empty_database_elsewhere_beside_data_is_refused(places: Places) -> None:
    """DATABASE_URL was changed, or forgotten."""
    folder = places.story()
    with places.at(folder):
        start()
    with places.at(folder, database=places.tmp_path / "other.sqlite3"):
        with pytest.raises(PlaceInUse) as refused:
            start()
        words = str(refused.value)
        assert f"The database sqlite:{places.tmp_path}/other.sqlite3 is empty" in words
        assert "(sqlite:brewhygiene.sqlite3)" in words


def test_database_of_another_brewery_is_refused(places: Places) -> None:
    folder = places.story()
    with places.at(folder):
        start()
        data_folder.write_marker(dataclasses.replace(marker(), first="0" * 64))
        with pytest.raises(PlaceInUse, match="belongs to another brewery"):
            start()
        # What the message says helps.
        data_folder.marker_path().unlink()
        assert start().set_up


def test_older_database_starts_and_is_named(places: Places) -> None:
    folder = places.story()
    with places.at(folder):
        start()
        seen = marker()
        data_folder.write_marker(
            dataclasses.replace(
                seen,
                entries=seen.entries + 7,
                head="f" * 64,
                recorded_at="2026-03-20T08:30:00+00:00",
            )
        )
        (words,) = start().warnings
        assert words.startswith(
            f"This database is older than its folder: the last start saw {seen.entries + 7:,} "
            f"ledger entries, until 2026-03-20 08:30 UTC, and now there are {seen.entries:,}, "
        )


def test_database_that_was_rewritten_at_its_end_is_named(story: Path) -> None:
    start()
    data_folder.write_marker(dataclasses.replace(marker(), head="f" * 64))
    assert len(start().warnings) == 1


def test_restore_that_did_not_end_is_refused(empty: Path) -> None:
    (empty / ".restoring-abc").mkdir(parents=True)
    with pytest.raises(PlaceInUse, match="A restore did not end here"):
        start()


def test_damaged_database_is_named(story: Path) -> None:
    path = story / "brewhygiene.sqlite3"
    content = bytearray(path.read_bytes())
    for page in range(20, len(content) // 4096):
        content[page * 4096 : page * 4096 + 200] = b"\xff" * 200
    path.write_bytes(content)
    with pytest.raises(ArchiveFault, match=r"brewhygiene\.sqlite3 is damaged\. Keep"):
        start()


def test_file_in_the_folders_place_is_named(places: Places) -> None:
    (places.tmp_path / "file").write_text("mine")
    with places.at(places.tmp_path / "file"), pytest.raises(ArchiveFault, match="is a file"):
        start()


def test_backup_is_made_before_tables_change_and_only_then(places: Places) -> None:
    folder = places.tmp_path / "old"
    folder.mkdir()
    load_sql(STORY / "database.sql", folder / "brewhygiene.sqlite3")
    with places.at(folder):
        path = starting.back_up_before_migrating(now=NOW)
        assert [kept.path for kept in archives_in(folder / "backups")] == [path]
        migrate()
        assert starting.back_up_before_migrating(now=NOW) is None
    with places.at(places.tmp_path / "new") as new:
        new.mkdir()
        assert starting.back_up_before_migrating(now=NOW) is None


def test_folder_and_files_are_closed_to_others(story: Path) -> None:
    story.chmod(0o755)
    (story / "brewhygiene.sqlite3").chmod(0o644)
    (story / "secret_key").chmod(0o644)
    assert data_folder.close_to_others() == []
    modes = {
        name: stat.S_IMODE((story / name).stat().st_mode)
        for name in (".", "brewhygiene.sqlite3", "secret_key")
    }
    assert modes == {".": 0o700, "brewhygiene.sqlite3": 0o600, "secret_key": 0o600}

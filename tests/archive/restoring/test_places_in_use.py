"""Restoring never overwrites what is in a place already."""

from pathlib import Path

import pytest

from brewhygiene.archive import data_folder
from brewhygiene.archive.faults import (
    ArchiveFault,
    PlaceInUse,
)
from brewhygiene.archive.restoring import restore_archive
from brewhygiene.archive.writing import Made
from tests.archive.conftest import (
    Places,
    everything_in,
)


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

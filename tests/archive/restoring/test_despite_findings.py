"""The command's words: an archive whose rows do not match, and where the ledger's key belongs."""

import shutil
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from brewhygiene.archive.words import until_words
from brewhygiene.archive.writing import Made, make_archive
from brewhygiene.cellar.models import Vessel
from brewhygiene.ledger.heads.key import KEY_FILE, public_hex
from brewhygiene.ledger.models import Entry
from tests.archive.conftest import ENTRIES, FILES, HEAD, NOW, Places, nothing_in

VOLUMES = [777.0, 888.0]


def told(path: Path, **options: Any) -> list[str]:
    """What the command says, line by line."""
    out = StringIO()
    call_command("restore", str(path), stdout=out, **options)
    return out.getvalue().splitlines()


@pytest.fixture
def changed(places: Places) -> Made:
    """An archive of a brewery in whose database somebody changed two rows behind the server."""
    with places.at(places.story("source")):
        for vessel, volume_hl in zip(Vessel.objects.order_by("pk"), VOLUMES, strict=False):
            Vessel.objects.filter(pk=vessel.pk).update(volume_hl=volume_hl)
        return make_archive(now=NOW)


def finding(row: int) -> str:
    """The entry is the one by which an update bound the rows of an earlier version."""
    return f"Row {row} of brewhygiene_vessel is not what entry 153 (bind earlier rows) bound."


def test_rows_that_do_not_match_are_refused_with_the_way_out(changed: Made, empty: Path) -> None:
    with pytest.raises(CommandError) as refused:
        told(changed.path)
    assert str(refused.value) == (
        f"The ledger does not match what the archive holds: {finding(1)} (and 1 more) Nothing "
        "was written. Take another archive, or restore this one as it is with "
        "--despite-findings."
    )
    assert nothing_in(empty)


def test_rows_that_do_not_match_come_back_as_they_are_and_are_listed(
    changed: Made, empty: Path
) -> None:
    lines = told(changed.path, despite_findings=True)
    head = Entry.objects.latest("number")
    assert lines == [
        f"Restored Kestrel & Tarn (invented) from {changed.path.name}.",
        until_words(changed.manifest),
        f"Not as the ledger has it: changed: {finding(1)}",
        f"Not as the ledger has it: changed: {finding(2)}",
        f"Files: 3. Folder: {empty}.",
        "Database: sqlite:brewhygiene.sqlite3.",
        "Nothing is missing. Everybody signs in again.",
    ]
    assert f"{head.number} entries" in lines[1]
    assert Entry.objects.order_by("id")[ENTRIES - 1].hash == HEAD
    assert (empty / FILES[0].removeprefix("files/")).exists()
    # As it is: nothing was put right on the way.
    assert [vessel.volume_hl for vessel in Vessel.objects.order_by("pk")[:2]] == VOLUMES


def test_archive_that_matches_lists_nothing_although_it_may(archive: Made, empty: Path) -> None:
    lines = told(archive.path, despite_findings=True)
    assert lines[1:3] == [
        f"{until_words(archive.manifest)} The ledger is consistent in itself.",
        f"Files: 3. Folder: {empty}.",
    ]


@pytest.fixture
def with_key(places: Places) -> tuple[Made, str]:
    """An archive with a ledger's key in it, and that key's public half."""
    with places.at(places.story("source")):
        public = public_hex()
        return make_archive(now=NOW), public


def test_key_that_came_back_elsewhere_is_to_be_moved(
    with_key: tuple[Made, str], empty: Path, settings: Any, tmp_path: Path
) -> None:
    made, public = with_key
    settings.LEDGER_KEY_DIR = tmp_path / "apart"
    lines = told(made.path)
    came_back, place = empty / "ledger_key" / KEY_FILE, tmp_path / "apart" / KEY_FILE
    assert f"Move {came_back} to {place} before the server starts." in lines
    # As it says: then the ledger goes on with the key that signed it.
    place.parent.mkdir()
    shutil.move(came_back, place)
    assert public_hex() == public


def test_key_that_came_back_to_its_place_is_not_mentioned(
    with_key: tuple[Made, str], empty: Path
) -> None:
    made, public = with_key
    assert [line for line in told(made.path) if "Move" in line] == []
    assert public_hex() == public

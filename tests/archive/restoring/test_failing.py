"""Where something fails on the way, nothing is left."""

import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from brewhygiene.archive import empty_place, restoring
from brewhygiene.archive.faults import (
    NoRoom,
)
from brewhygiene.archive.restoring import restore_archive
from brewhygiene.archive.writing import Made
from tests.archive.conftest import (
    ENTRIES,
    Places,
    everything_in,
    nothing_in,
)


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
            cwd=Path(__file__).parents[3],
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

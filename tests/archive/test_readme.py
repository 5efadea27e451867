"""README's commands for backup and restore, run word for word in a copy of the clone, twice."""

import os
import re
import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

import pytest

from tests.archive.conftest import ENTRIES, HEAD, Places

ROOT = Path(__file__).parents[2]
BLOCK = re.compile(r"```\n(.*?)```", re.DOTALL)


def commands_of(heading: str) -> list[str]:
    """The blocks of commands below a heading, each as it stands there."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = text.split(f"\n## {heading}\n")[1].split("\n## ")[0]
    return BLOCK.findall(section)


class Clone:
    """A copy of the program with a brewery in ``var/``, as a brewery has it."""

    def __init__(self, folder: Path, data: Path) -> None:
        self.folder = folder
        for name in ("brewhygiene", "templates", "static"):
            shutil.copytree(ROOT / name, folder / name, ignore=shutil.ignore_patterns("*.pyc"))
        shutil.copy(ROOT / "manage.py", folder)
        (folder / ".venv").symlink_to(ROOT / ".venv")
        shutil.copytree(data, folder / "var")

    def run(self, commands: str) -> subprocess.CompletedProcess[str]:
        """In a shell that stops at the first command that fails, as a person would."""
        return subprocess.run(
            ["sh", "-e"],
            input=commands,
            cwd=self.folder,
            env={"PATH": os.environ["PATH"], "LANG": "C.UTF-8"},
            capture_output=True,
            text=True,
            check=False,
        )

    def head(self, folder: str) -> str:
        with closing(sqlite3.connect(self.folder / folder / "brewhygiene.sqlite3")) as database:
            query = "SELECT hash FROM brewhygiene_entry ORDER BY id LIMIT 1 OFFSET ?"
            (found,) = database.execute(query, [ENTRIES - 1]).fetchone()
        return str(found)


@pytest.fixture
def clone(places: Places, tmp_path: Path) -> Clone:
    return Clone(tmp_path / "clone", places.story())


def test_backup_and_restore_come_back_word_for_word_and_once_more(
    clone: Clone, tmp_path: Path
) -> None:
    back_up, restore = commands_of("Looking after the records")
    for round_ in range(2):
        made = clone.run(back_up)
        assert (made.returncode, made.stderr) == (0, "")
        assert "\nLedger: " in made.stdout
        restored = clone.run(restore)
        assert (restored.returncode, restored.stderr) == (0, ""), round_
        assert "Restored Kestrel & Tarn (invented) from brewhygiene-" in restored.stdout
        assert "Nothing is missing." in restored.stdout
        assert clone.head("restored") == HEAD
        # A third time it would be into a folder that is in use: nothing is overwritten.
        again = clone.run(restore)
        assert again.returncode == 1
        assert "is in use" in again.stderr
        assert clone.head("restored") == HEAD
        # The next round begins from what came back, in a clone of its own.
        clone = Clone(tmp_path / f"clone {round_}", clone.folder / "restored")

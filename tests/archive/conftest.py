"""A data folder with an invented brewery in it, and empty ones to restore into."""

import dataclasses
import shutil
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command
from django.test import override_settings

from brewhygiene.archive import data_folder, restoring, writing
from brewhygiene.archive.writing import Made, make_archive
from tests.databases import instead_of_the_database, load_sql

STORY = Path(__file__).parents[2] / "fixtures" / "databases" / "0003"
NOW = datetime(2026, 3, 16, 12, 0, tzinfo=UTC)
# The ledger of that story.
ENTRIES, HEAD = 113, "f27f40f3ead5956e03c56a978505180889ff2f00e50dc68f2b53e9a27a379816"
FILES = ["files/photos/traces/4-016f6b46bd4d.log", "files/photos/vessels/9d462ee95b08609b.jpg"]
PASSPHRASE = "seven dull copper kettles"


@pytest.fixture(scope="session")
def migrated_story(tmp_path_factory: pytest.TempPathFactory, django_db_blocker: Any) -> Path:
    """The story's database with today's tables, made once."""
    path = tmp_path_factory.mktemp("story") / "brewhygiene.sqlite3"
    load_sql(STORY / "database.sql", path)
    # Its rows are bound to their files as they are then.
    with (
        override_settings(MEDIA_ROOT=STORY / "photos"),
        instead_of_the_database(path, django_db_blocker),
    ):
        call_command("migrate", interactive=False, verbosity=0)
    return path


@pytest.fixture(scope="session")
def empty_tables(tmp_path_factory: pytest.TempPathFactory, django_db_blocker: Any) -> Path:
    """A database with today's tables and nothing in them, made once."""
    path = tmp_path_factory.mktemp("tables") / "brewhygiene.sqlite3"
    with instead_of_the_database(path, django_db_blocker):
        call_command("migrate", interactive=False, verbosity=0)
    return path


@pytest.fixture(autouse=True)
def _tables_by_copying(
    request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch, empty_tables: Path
) -> None:
    """Migrating from nothing takes seconds each time: most tests copy what came of it once.

    Those marked ``own_tables`` migrate.
    """
    if "own_tables" in request.keywords:
        return

    def copied(applied: list[tuple[str, str]]) -> None:
        path = data_folder.database_path()
        assert not path.exists()
        shutil.copy(empty_tables, path)

    monkeypatch.setattr(restoring, "_make_tables", copied)


class Places:
    """Data folders, one of which is the installation's at a time."""

    def __init__(self, tmp_path: Path, settings: Any, blocker: Any, story: Path) -> None:
        self.tmp_path = tmp_path
        self.settings = settings
        self.blocker = blocker
        self.story_database = story

    @contextmanager
    def at(self, folder: Path, *, database: Path | None = None) -> Iterator[Path]:
        """The installation lives there."""
        names = ("DATA_DIR", "BACKUP_DIR", "MEDIA_ROOT", "LEDGER_KEY_DIR")
        before = {name: getattr(self.settings, name) for name in names}
        self._live_in(folder)
        try:
            with instead_of_the_database(database or folder / "brewhygiene.sqlite3", self.blocker):
                yield folder
        finally:
            for name, value in before.items():
                setattr(self.settings, name, value)

    def _live_in(self, folder: Path) -> None:
        self.settings.DATA_DIR = folder
        self.settings.BACKUP_DIR = folder / "backups"
        self.settings.MEDIA_ROOT = folder / "photos"
        self.settings.LEDGER_KEY_DIR = folder / "ledger_key"

    def story(self, name: str = "data") -> Path:
        """A folder as a server leaves it: database, photographs and a key."""
        folder = self.tmp_path / name
        shutil.copytree(STORY / "photos", folder / "photos")
        shutil.copy(self.story_database, folder / "brewhygiene.sqlite3")
        (folder / "secret_key").write_text("invented-key", encoding="ascii")
        return folder


@pytest.fixture
def places(
    tmp_path: Path,
    settings: Any,
    django_db_blocker: Any,
    migrated_story: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Places:
    monkeypatch.setattr(writing, "RESERVE_BYTES", 0)
    return Places(tmp_path, settings, django_db_blocker, migrated_story)


@pytest.fixture
def story(places: Places) -> Iterator[Path]:
    """The installation lives in the story's folder."""
    with places.at(places.story()) as folder:
        yield folder


@pytest.fixture(scope="session")
def made_once() -> dict[str, tuple[Made, bytes]]:
    """Archives by their passphrase, each made by the first test that asks for it."""
    return {}


def copy_of_one(
    made_once: dict[str, tuple[Made, bytes]], places: Places, *, passphrase: str = ""
) -> Made:
    """An archive of the story in a folder of this test, made by an installation that is gone."""
    if passphrase not in made_once:
        with places.at(places.story("source")):
            made = make_archive(now=NOW, passphrase=passphrase)
        made_once[passphrase] = (made, made.path.read_bytes())
        shutil.rmtree(places.tmp_path / "source")
    made, content = made_once[passphrase]
    folder = places.tmp_path / "archives"
    folder.mkdir()
    path = folder / made.path.name
    path.write_bytes(content)
    return dataclasses.replace(made, path=path)


@pytest.fixture
def archive(made_once: dict[str, tuple[Made, bytes]], places: Places) -> Made:
    return copy_of_one(made_once, places)


@pytest.fixture
def sealed(made_once: dict[str, tuple[Made, bytes]], places: Places) -> Made:
    return copy_of_one(made_once, places, passphrase=PASSPHRASE)


@pytest.fixture
def empty(places: Places) -> Iterator[Path]:
    """The installation is to be in a folder that is not there yet."""
    with ExitStack() as stack:
        yield stack.enter_context(places.at(places.tmp_path / "empty"))


def nothing_in(folder: Path) -> bool:
    """Whether a folder is not there, or empty."""
    return not folder.exists() or not any(folder.iterdir())


def everything_in(folder: Path) -> dict[str, bytes]:
    """Every file below a folder and what is in it."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


Marker = Callable[[], data_folder.Installation | None]

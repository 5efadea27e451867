"""The test database of SQLite: migrated once for all processes and runs, put back by copying it.

To migrate from nothing and to empty every table took a fifth of all tests' time. What is copied
is the database as the migrations leave it; it is kept in ``var`` under a hash of them, so that
one of another wording is never used. PostgreSQL's is made and emptied by Django itself.
"""

import fcntl
import hashlib
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import django
import pytest
from django.db import connections
from django.db.backends.sqlite3.creation import DatabaseCreation
from django.test import TransactionTestCase

ROOT = Path(__file__).parents[1]
KEPT = ROOT / "var" / "test-databases"
# Long enough for a thread of the live server to let go of the file.
PATIENCE_S = 60

# By path of the test database: how it was before the first test.
_untouched: dict[str, sqlite3.Connection] = {}


def wording() -> str:
    """A hash of everything that a migrated database follows from."""
    found = hashlib.sha256(f"{django.VERSION} {sqlite3.sqlite_version}".encode())
    for path in sorted((ROOT / "brewhygiene").rglob("*.py")):
        if "migrations" in path.parts or path.name in ("models.py", "triggers.py", "roles.py"):
            found.update(path.relative_to(ROOT).as_posix().encode() + b"\0" + path.read_bytes())
    return found.hexdigest()[:20]


@contextmanager
def _alone() -> Iterator[Path]:
    """The kept database's path, while no other process makes or reads it."""
    KEPT.mkdir(parents=True, exist_ok=True)
    with (KEPT / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield KEPT / f"{wording()}.sqlite3"


def copy(source: sqlite3.Connection, path: str | Path) -> None:
    with closing(sqlite3.connect(path, timeout=PATIENCE_S)) as target:
        source.backup(target)


def use(patch: pytest.MonkeyPatch) -> None:
    """Make and put back SQLite's test database by copying."""
    create: Callable[..., str] = DatabaseCreation.create_test_db
    create_file: Callable[..., str] = DatabaseCreation._create_test_db
    empty: Callable[..., None] = TransactionTestCase._fixture_teardown

    def create_file_from_kept(self: Any, *args: Any, **kwargs: Any) -> str:
        path = create_file(self, *args, **kwargs)
        kept = KEPT / f"{wording()}.sqlite3"
        if kept.exists():
            shutil.copyfile(kept, path)
        return path

    def create_once(self: Any, *args: Any, **kwargs: Any) -> str:
        with _alone() as kept:
            path = create(self, *args, **kwargs)
            connections[self.connection.alias].close()
            with closing(sqlite3.connect(path)) as database:
                _untouched[path] = sqlite3.connect(":memory:", check_same_thread=False)
                database.backup(_untouched[path])
            if not kept.exists():
                for older in KEPT.glob("*.sqlite3"):
                    older.unlink()
                copy(_untouched[path], kept)
        return path

    def put_back(self: Any) -> None:
        for alias in self._databases_names(include_mirrors=False):
            untouched = _untouched.get(str(connections[alias].settings_dict["NAME"]))
            if untouched is None:
                empty(self)
                return
            connections[alias].close()
            copy(untouched, connections[alias].settings_dict["NAME"])

    patch.setattr(DatabaseCreation, "create_test_db", create_once)
    patch.setattr(DatabaseCreation, "_create_test_db", create_file_from_kept)
    patch.setattr(TransactionTestCase, "_fixture_teardown", put_back)

"""SQLite files that stand in for the database while a test works on them."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from django.contrib.contenttypes.models import ContentType
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.backends.sqlite3.base import DatabaseWrapper


def load_sql(text: Path, into: Path) -> Path:
    """A SQLite file made of SQL text."""
    with closing(sqlite3.connect(into)) as database:
        database.executescript(text.read_text(encoding="utf-8"))
    return into


@contextmanager
def instead_of_the_database(path: Path, blocker: Any) -> Iterator[None]:
    """Everything in the block asks ``path``, whatever database the tests run on.

    ``blocker`` is pytest-django's: no test database is needed, and none is touched.
    """
    before = connections[DEFAULT_DB_ALIAS]
    settings = {
        **before.settings_dict,
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": str(path),
        # As in the brewery, but for what survives a power cut.
        "OPTIONS": {
            "transaction_mode": "IMMEDIATE",
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=OFF;",
        },
        "CONN_MAX_AGE": 0,
    }
    connections[DEFAULT_DB_ALIAS] = DatabaseWrapper(settings, DEFAULT_DB_ALIAS)
    ContentType.objects.clear_cache()
    try:
        with blocker.unblock():
            yield
    finally:
        connections[DEFAULT_DB_ALIAS].close()
        connections[DEFAULT_DB_ALIAS] = before
        ContentType.objects.clear_cache()

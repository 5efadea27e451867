"""One unchanging view of the database while others go on writing."""

import copy
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import DEFAULT_DB_ALIAS, connections, transaction
from django.db.utils import load_backend

ALIAS = "snapshot"


def connect(alias: str, *, name: str | None = None, **options: Any) -> None:
    """A further connection of this thread to the database, or to another of its kind."""
    settings = copy.deepcopy(connections[DEFAULT_DB_ALIAS].settings_dict)
    if name is not None:
        settings["NAME"] = name
    settings["CONN_MAX_AGE"] = 0
    settings.setdefault("OPTIONS", {}).update(options)
    backend = load_backend(settings["ENGINE"])
    connections[alias] = backend.DatabaseWrapper(settings, alias)


def disconnect(alias: str) -> None:
    connections[alias].close()
    del connections[alias]


@contextmanager
def snapshot() -> Iterator[str]:
    """The alias of a connection that sees one state, whatever is written meanwhile.

    On SQLite a read transaction beside the writers (the database is in WAL mode), on PostgreSQL
    one that is repeatable. Neither keeps anybody waiting.
    """
    if connections[DEFAULT_DB_ALIAS].vendor == "postgresql":
        from psycopg import IsolationLevel

        connect(ALIAS, isolation_level=IsolationLevel.REPEATABLE_READ)
    else:
        connect(ALIAS, transaction_mode="DEFERRED")
    try:
        with transaction.atomic(using=ALIAS):
            yield ALIAS
    finally:
        disconnect(ALIAS)

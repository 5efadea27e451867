"""Changing evidence behind the application's back, as tests alone may."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection, models
from django.db.backends.base.operations import BaseDatabaseOperations

from brewhygiene.ledger import triggers


@contextmanager
def unguarded(*tables: type[models.Model]) -> Iterator[None]:
    """Let rows of these models (or of all) be changed: their triggers are away meanwhile."""
    # PostgreSQL alters no table on which a deferred constraint still has to be looked at.
    connection.check_constraints()
    triggers.remove({model._meta.db_table for model in tables} or None)
    try:
        yield
    finally:
        connection.check_constraints()
        triggers.install()


def let_flush() -> None:
    """Let Django empty the tables between tests; its own signal puts the triggers back after."""
    for operations in {type(connection.ops), BaseDatabaseOperations}:
        if "execute_sql_flush" in vars(operations):
            flush = operations.execute_sql_flush

            def flush_unguarded(self: Any, sql_list: list[str], flush: Any = flush) -> None:
                triggers.remove()
                flush(self, sql_list)

            operations.execute_sql_flush = flush_unguarded

"""What the ledger does around a migration."""

from typing import Any

from django.db import connection

from brewhygiene.ledger import triggers
from brewhygiene.ledger.adoption import note_changed, take_over


def before_migration(*, using: str, plan: Any = (), **_: Any) -> None:
    """Check the rows while their old columns can be read, and let the migration move them."""
    if plan and using == connection.alias:
        note_changed()
        triggers.remove()


def after_migration(*, using: str, apps: Any = None, **_: Any) -> None:
    """Bind what has to be bound anew, and put the triggers in place.

    Not while a database is half-way: a test goes back to an older state of the tables.
    """
    if using == connection.alias and _is_up_to_date():
        take_over()
        triggers.install()


def _is_up_to_date() -> bool:
    from django.db.migrations.executor import MigrationExecutor

    executor = MigrationExecutor(connection)
    return not executor.migration_plan(executor.loader.graph.leaf_nodes("brewhygiene"))

"""The whole check: entries, rows, files, triggers and heads."""

import itertools
from collections.abc import Iterator

from brewhygiene.ledger import triggers
from brewhygiene.ledger.check.entries import check_entries, check_shapes
from brewhygiene.ledger.check.heads import check_kept_heads
from brewhygiene.ledger.check.rows import check_rows
from brewhygiene.ledger.findings import Finding, Kind


def check_everything(*, own_key: str | None = None) -> Iterator[Finding]:
    """Everything that is not as it was recorded; the key, if it is not the installation's own."""
    return itertools.chain(
        check_entries(),
        check_shapes(),
        check_rows(),
        check_triggers(),
        check_kept_heads(own_key=own_key),
    )


def check_triggers() -> Iterator[Finding]:
    """Tables that the database does not guard against change. 2 queries at most."""
    for trigger in triggers.missing():
        yield Finding(
            Kind.UNGUARDED,
            f"The trigger {trigger.name} on {trigger.table} is missing or not as it should be.",
            table=trigger.table,
        )

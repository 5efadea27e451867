"""Actions on what a tablet kept: nothing that was typed goes without a word."""

from collections.abc import Sequence
from datetime import datetime

from brewhygiene.delivery.models import SetAside
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.refusals import Refusal


@action("close what was not taken")
def set_aside(
    *,
    by: Actor,
    what: str,
    page: str,
    typed: Sequence[tuple[str, str]],
    typed_at: datetime,
    refused_because: str,
    reason: str,
) -> Recorded[SetAside]:
    """Keep a form that the server did not take, with why it is not typed again."""
    if not reason.strip():
        raise Refusal(
            "Enter why this is not needed, or where it is recorded.",
            field="reason",
            code="no_reason",
        )
    kept = SetAside.objects.create(
        what=what,
        page=page,
        typed=[list(pair) for pair in typed],
        typed_at=min(typed_at, by.now),
        refused_because=refused_because,
        reason=reason.strip(),
        set_aside_at=by.now,
        set_aside_by=by.person,
    )
    return Recorded(
        kept,
        {
            "typed": kept.typed,
            "typed_at": kept.typed_at,
            "refused_because": refused_because,
            "reason": kept.reason,
        },
    )

"""Actions on what a tablet kept: nothing that was typed goes without a word."""

from collections.abc import Sequence
from datetime import datetime

from brewhygiene.delivery.arrivals import unverified
from brewhygiene.delivery.models import Arrival, SetAside
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signing_in.second_signature import SECRET, is_theirs
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


@action("confirm name")
def confirm_name(*, by: Actor, arrivals: Sequence[int], secret: str) -> Recorded[Arrival]:
    """Confirm by PIN or password that what was recorded in one's name was one's own.

    ``arrivals`` are keys: each waits for nobody but the person who acts. The subject is the first.
    """
    person = require(by, "work_cellar")
    if not secret:
        raise Refusal("Enter your PIN or password.", field=SECRET, code="no_secret")
    if not is_theirs(person, secret):
        raise Refusal(
            "This is not your PIN or password. Nothing was confirmed.",
            field=SECRET,
            code="bad_secret",
        )
    if person.password_set_by:
        raise Refusal(
            f"{person.password_set_by} set your password and knows it. Choose another first: "
            "Menu, My password.",
            field=SECRET,
            code="known_password",
        )
    if not arrivals:
        raise Refusal("Choose what you recorded.", field="arrivals", code="none_chosen")
    found = list(
        unverified().filter(pk__in=arrivals, person=person).select_for_update().order_by("pk")
    )
    if len(found) != len(set(arrivals)):
        raise Refusal(
            "Some of these do not wait for you any more. Open the page again.", code="not_waiting"
        )
    for arrival in found:
        arrival.confirmed_at, arrival.confirmed_by = by.now, person
        arrival.save(update_fields=["confirmed_at", "confirmed_by"])
    return Recorded(
        found[0],
        {
            "confirmed": [
                {"what": one.name, "of": f"{one.subject_type}:{one.subject_id}"} for one in found
            ]
        },
    )

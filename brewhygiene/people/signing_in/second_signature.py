"""A second person's signature on the page of the first: on one tablet, by PIN or password."""

import math

from django.contrib.auth.hashers import check_password
from django.utils import timezone

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.models import Signature, User
from brewhygiene.people.permissions import may_any
from brewhygiene.people.requests import Request
from brewhygiene.people.signing_in import waits
from brewhygiene.people.signing_in.backends import may_use_pin
from brewhygiene.refusals import Refusal

SIGNER, SECRET = "second_signer", "second_secret"
# Whoever works in the cellar or decides can stand beside the head brewer.
SIGNS_SECOND = ("work_cellar", "decide_release")


def is_theirs(person: User, secret: str) -> bool:
    """Whether ``secret`` is a person's PIN or password."""
    by_pin = may_use_pin(person) and check_password(secret, person.pin_hash)
    return by_pin or person.check_password(secret)


def _wrong(person: User) -> str:
    return f"This is not the PIN or password of {person}. Nothing was signed."


def guard_second(request: Request, *, person: User, secret: str) -> None:
    """Refuse a wrong PIN or password and count it on this tablet.

    Called by views before the signing action: the count must outlive the action's transaction.
    """
    if not secret:
        return
    now, tablet = timezone.now(), waits.tablet_of(request)
    until = waits.waits_until(person, tablet, now=now)
    if until is None:
        if is_theirs(person, secret):
            waits.forget(person, tablet)
            return
        until = waits.count_wrong(person, tablet, now=now)
    if until is None:
        raise Refusal(_wrong(person), field=SECRET, code="bad_secret")
    raise Refusal(
        f"Too many wrong ones on this tablet. {person} can try again in "
        f"{math.ceil((until - now).total_seconds())} seconds.",
        field=SECRET,
        code="wait",
    )


def check_second_signer(*, by: Actor, person: User | None) -> User:
    """Refuse who cannot sign beside ``by``: nobody, the same person, or one without a role."""
    if person is None:
        raise Refusal("Choose who signs second.", field=SIGNER, code="no_second")
    if person.pk == by.person.pk:
        raise Refusal(
            f"{person} signs first. Choose another person.", field=SIGNER, code="same_person"
        )
    if not may_any(person, SIGNS_SECOND):
        raise Refusal(
            f"{person} has neither the cellar nor the head brewer role. Choose another person.",
            field=SIGNER,
            code="no_role",
        )
    return person


def countersign(*, by: Actor, person: User, secret: str, meaning: str) -> Signature:
    """Write the second signature; called inside an action, whose ledger entry covers it."""
    if not secret:
        raise Refusal(
            f"{person} has to enter a PIN or password to sign.", field=SECRET, code="no_secret"
        )
    if not is_theirs(person, secret):
        raise Refusal(_wrong(person), field=SECRET, code="bad_secret")
    if person.password_set_by:
        raise Refusal(
            f"{person.password_set_by} set the password of {person} and knows it. {person} has to "
            "choose another before signing: Menu, Password.",
            field=SECRET,
            code="not_own_password",
        )
    return Signature.objects.create(
        user=person, printed_name=person.display_name, meaning=meaning, signed_at=by.now
    )

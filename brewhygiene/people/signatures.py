"""Signing: the password again, at the moment of the decision."""

from brewhygiene.ledger.door import Actor
from brewhygiene.people.models import Signature
from brewhygiene.refusals import Refusal


def check_password(*, by: Actor, password: str) -> None:
    """Refuse unless ``password`` is the acting user's own.

    Called by views before the verb: a wrong password is counted against guessing, and that
    count must outlive the refused verb's transaction.
    """
    user = by.person
    if not password:
        raise Refusal("Type your password to sign.", field="password", code="no_password")
    if not user.check_password(password):
        raise Refusal(
            "That is not your password. Nothing was signed.", field="password", code="bad_password"
        )


def sign(*, by: Actor, password: str, meaning: str) -> Signature:
    """Write a signature; called inside a verb, whose ledger entry covers it.

    Raises :class:`Refusal` on ``password`` when it is missing or wrong.
    """
    check_password(by=by, password=password)
    return Signature.objects.create(
        user=by.person, printed_name=by.name, meaning=meaning, signed_at=by.now
    )

"""Signing: the password again, at the moment of the decision."""

from django.contrib.auth import authenticate
from django.http import HttpRequest

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.models import Signature
from brewhygiene.refusals import Refusal


def check_password(*, by: Actor, password: str) -> None:
    """Refuse unless ``password`` is the acting user's own."""
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


def guard_password(request: HttpRequest, *, password: str) -> None:
    """Refuse a wrong password and count it against guessing, as a failed sign-in is.

    Called by views before the signing verb: the count must outlive the verb's transaction.
    """
    if not password:
        raise Refusal("Type your password to sign.", field="password", code="no_password")
    if authenticate(request, username=request.user.get_username(), password=password) is None:
        if getattr(request, "axes_locked_out", False):
            # The page itself answers, with all that was typed, not the page of a locked sign-in.
            request.axes_locked_out = False  # type: ignore[attr-defined]
            raise Refusal(
                "Too many wrong passwords. Signing is locked for a quarter of an hour.",
                field="password",
                code="locked",
            )
        raise Refusal(
            "That is not your password. Nothing was signed.", field="password", code="bad_password"
        )

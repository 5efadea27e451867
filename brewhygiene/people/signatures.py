"""Signing: the password again, at the moment of the decision."""

from django.contrib.auth import logout
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest

from brewhygiene.ledger.recording import Actor
from brewhygiene.people.models import Signature
from brewhygiene.refusals import Refusal

# After so many wrong passwords in a row in one session, that session ends. The right one signs at
# any time before: nobody else at the tablet can keep its owner from signing.
WRONG_MOST = 8
_COUNT = "wrong_passwords"


def check_password(*, by: Actor, password: str) -> None:
    """Refuse unless ``password`` is the acting user's."""
    user = by.person
    if not password:
        raise Refusal("Enter your password to sign.", field="password", code="no_password")
    if not user.check_password(password):
        raise Refusal(
            "This is not your password. Nothing was signed.", field="password", code="bad_password"
        )


def confirm(*, by: Actor, password: str) -> None:
    """Refuse unless ``password`` is the acting user's, and chosen by themselves.

    Whoever set it for them knows it, and could sign in their name.
    """
    check_password(by=by, password=password)
    user = by.person
    if user.password_set_by:
        raise Refusal(
            f"{user.password_set_by} set this password and knows it. Choose your own before you "
            "sign: Menu, Password.",
            field="password",
            code="not_own_password",
        )


def sign(*, by: Actor, password: str, meaning: str) -> Signature:
    """Write a signature; called inside an action, whose ledger entry covers it.

    Raises :class:`Refusal` on ``password`` when it is missing, wrong or known to another.
    """
    confirm(by=by, password=password)
    return Signature.objects.create(
        user=by.person, printed_name=by.name, meaning=meaning, signed_at=by.now
    )


def guard_password(request: HttpRequest, *, password: str) -> None:
    """Refuse a wrong password and count it; the session ends where somebody seems to guess.

    Called by views before the signing action: the count must outlive the action's transaction.
    """
    if not password:
        raise Refusal("Enter your password to sign.", field="password", code="no_password")
    user = request.user
    if user.is_authenticated and user.check_password(password):
        request.session.pop(_COUNT, None)
        return
    wrong = request.session[_COUNT] = request.session.get(_COUNT, 0) + 1
    if wrong >= WRONG_MOST:
        logout(request)
        raise PermissionDenied("Too many wrong passwords. Sign in again to go on.")
    raise Refusal(
        "This is not your password. Nothing was signed.", field="password", code="bad_password"
    )

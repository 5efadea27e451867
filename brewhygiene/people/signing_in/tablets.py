"""Which tablets are the brewery's own: those where somebody once signed in by password.

Only on these is the page with everybody's name offered to whoever picks the tablet up.
"""

import secrets

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

COOKIE = "tablet"
SALT = "brewhygiene.people.tablets"
KNOWN_FOR_S = 60 * 60 * 24 * 365


def mark_of(request: HttpRequest) -> str:
    """What tells this tablet from others, or '' for one that does not belong here."""
    return request.get_signed_cookie(COOKIE, default="", salt=SALT, max_age=KNOWN_FOR_S) or ""


def is_known(request: HttpRequest) -> bool:
    """Whether this tablet carries the signed cookie of one that belongs here."""
    return bool(mark_of(request))


def remember(request: HttpRequest, response: HttpResponseBase) -> None:
    """Make the tablet that gets this response a known one, for a year; it keeps its mark."""
    response.set_signed_cookie(
        COOKIE,
        mark_of(request) or secrets.token_hex(8),
        salt=SALT,
        max_age=KNOWN_FOR_S,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )

"""Which tablets are the brewery's own, and which of them are enrolled.

A tablet is known once somebody signed in on it by password; it is enrolled by the head brewer, and
has a name from then on. While none is enrolled, every known tablet takes PINs; from the first on,
enrolled ones alone do. Common practice, no source: a PIN is weak, so the tablet is the second thing
that somebody needs.
"""

import secrets

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

from brewhygiene.people.models import Tablet

COOKIE = "tablet"
SALT = "brewhygiene.people.tablets"
KNOWN_FOR_S = 60 * 60 * 24 * 365


def mark_of(request: HttpRequest) -> str:
    """What tells this tablet from others, or '' for one that does not belong here."""
    mark = request.get_signed_cookie(COOKIE, default="", salt=_salt(request), max_age=KNOWN_FOR_S)
    return mark or ""


def _salt(request: HttpRequest) -> str:
    """What was given in the clear may have been listened to: over HTTPS it is worth nothing."""
    return f"{SALT}.https" if request.is_secure() else SALT


def enrolled(request: HttpRequest) -> Tablet | None:
    """The enrolled tablet that this request comes from. 1 query where it carries the cookie."""
    mark = mark_of(request)
    if not mark:
        return None
    return Tablet.objects.filter(mark=mark, retired_at__isnull=True).first()


def takes_pins(request: HttpRequest) -> bool:
    """Whether a PIN opens anything on this tablet. 1 query."""
    mark = mark_of(request)
    marks = set(Tablet.objects.filter(retired_at__isnull=True).values_list("mark", flat=True))
    return mark in marks if marks else True


def offers_names(request: HttpRequest) -> bool:
    """Whether everybody's name is offered to whoever picks this tablet up. 1 query at most."""
    mark = mark_of(request)
    return bool(mark) and not Tablet.objects.filter(mark=mark, retired_at__isnull=False).exists()


def remember(request: HttpRequest, response: HttpResponseBase) -> None:
    """Make the tablet that gets this response a known one, for a year; it keeps its mark."""
    response.set_signed_cookie(
        COOKIE,
        mark_of(request) or secrets.token_hex(8),
        salt=_salt(request),
        max_age=KNOWN_FOR_S,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )

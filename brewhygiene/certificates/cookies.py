"""Nothing that crossed the network in the clear opens anything over HTTPS.

Cookies know no ports: what a browser got from the plain port it would also send to the encrypted
one, and whoever listens or writes along on plain HTTP could hand it a session there. So over HTTPS
every cookie has the prefix ``__Host-``, which browsers take from an encrypted page only and never
send in the clear (RFC 6265bis, 4.1.3.2), and one without it is not looked at. A session that was
begun on one of the two is none on the other, whatever the name of the cookie that brings its key.
"""

from collections.abc import Callable
from typing import Any

from django.contrib.auth import SESSION_KEY
from django.http import HttpRequest, HttpResponse

PREFIX = "__Host-"
BEGUN_OVER_HTTPS = "begun_over_https"

Next = Callable[[HttpRequest], HttpResponse]


class CookiesByScheme:
    """The cookies' names over HTTPS. Stands before everything that reads or sets one."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.is_secure():
            return self.get_response(request)
        request.COOKIES = {
            name.removeprefix(PREFIX): value
            for name, value in request.COOKIES.items()
            if name.startswith(PREFIX)
        }
        response = self.get_response(request)
        for name in list(response.cookies):
            given = response.cookies.pop(name)
            response.cookies[PREFIX + name] = given.value
            kept = response.cookies[PREFIX + name]
            kept.update({key: word for key, word in given.items() if word != ""})
            # What the prefix asks for.
            kept["secure"], kept["path"], kept["domain"] = True, "/", ""
        return response


class SessionsByScheme:
    """A session that somebody signed in to holds on its own port only. 0 queries of its own."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        session = request.session
        begun_over_https = session.get(BEGUN_OVER_HTTPS, False)
        if SESSION_KEY in session and begun_over_https != request.is_secure():
            # Not ended: whose it is goes on with it where they began it.
            request.session = type(session)()
        return self.get_response(request)


def mark_session(request: HttpRequest | None, **_: Any) -> None:
    """Somebody signed in: on which of the two."""
    if request is not None:
        request.session[BEGUN_OVER_HTTPS] = request.is_secure()

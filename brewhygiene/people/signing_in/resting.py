"""A tablet that nobody touches signs out by itself, and a page that follows by itself is no touch.

Only on enrolled tablets. The tablet's script signs out at its time and keeps what was typed; the
server ends the session a little later by itself, for a tablet whose script sleeps.
"""

from collections.abc import Callable
from datetime import datetime, timedelta

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from brewhygiene.people import tablets
from brewhygiene.people.requests import Request

AFTER_MIN, TOUCHED_AT = "signs_out_after_min", "touched_at"
# The session is written once in so long, not at each request.
WRITTEN_EVERY = timedelta(minutes=1)
# The script comes first, so that nothing typed is lost.
GRACE = timedelta(minutes=2)


def begin(request: Request) -> None:
    """Let this session end by itself where it runs on an enrolled tablet. 1 query at most."""
    request.session.pop(AFTER_MIN, None)
    if tablets.enrolled(request) is None:
        return
    minutes = request.brewery.signs_out_after_min
    if minutes is not None:
        request.session[AFTER_MIN] = minutes
        request.session[TOUCHED_AT] = timezone.now().isoformat()


def is_touch(request: HttpRequest) -> bool:
    """Whether a person did this: sent a form or opened a page, rather than its script asked."""
    if request.method not in ("GET", "HEAD"):
        # What a tablet had kept and sends by itself was typed long before.
        return "X-Kept-Late" not in request.headers
    by_script = request.headers.get("Sec-Fetch-Mode", "navigate") != "navigate"
    return not by_script and "HX-Request" not in request.headers


def is_over(request: HttpRequest, *, now: datetime) -> bool:
    """Whether nobody has touched the tablet of this session for its time. 0 queries."""
    after = request.session.get(AFTER_MIN)
    if after is None:
        return False
    touched = datetime.fromisoformat(request.session[TOUCHED_AT])
    return now - touched > timedelta(minutes=after) + GRACE


class RestingMiddleware:
    """End the session of a tablet at rest, and note when somebody touches it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if AFTER_MIN in request.session:
            now = timezone.now()
            if is_over(request, now=now):
                logout(request)
            elif is_touch(request):
                touched = datetime.fromisoformat(request.session[TOUCHED_AT])
                if now - touched >= WRITTEN_EVERY:
                    request.session[TOUCHED_AT] = now.isoformat()
        return self.get_response(request)

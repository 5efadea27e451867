"""What a tablet kept and sends: only as the one who typed it, never twice, answered for a script.

A form that a tablet keeps is sent to its own address, with the names of who typed it and when in
headers. Every action, refusal and permission is used as it is; only what a script cannot see of
an answer is said in a header.

Where hands changed without a network, the one who typed it is only ``STATED``: it is recorded as
theirs and waits for their confirmation. Nothing but the floor's own forms may come so.
"""

from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.html import format_html

from brewhygiene.delivery.arrivals import VERDICTS, Kept
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.people.permissions import may
from brewhygiene.people.requests import LONGEST_KEY
from brewhygiene.quantities.days import read_stamp

PERSON, TYPED_AT, LATE = "X-Kept-Person", "X-Kept-Typed-At", "X-Kept-Late"
STATED, OFFSET, VERDICT = "X-Kept-Stated", "X-Kept-Offset", "X-Kept-Verdict"
AFTER_END = "X-Kept-After-End"
# What the tablet's script goes by; ``VERDICT`` both ways.
OUTCOME, WENT_TO, REASONS = "X-Kept-Outcome", "X-Kept-Went-To", "X-Kept-Reasons"
NOBODY, NOT_SO = "nobody-of-that-name", "not-by-a-stated-name"
LARGEST_OFFSET_S = 2**31 - 1
# The forms that a tablet may send in a name that was only stated.
BY_STATED_NAME = frozenset(
    {
        "turnarounds:safety",
        "turnarounds:start_step",
        "turnarounds:read",
        "turnarounds:end_step",
        "turnarounds:dispose",
        "atp:sample",
    }
)
SIGNED_OUT, OTHER_PERSON, ALREADY, TAKEN = "signed-out", "other-person", "already", "taken"


def _answer(outcome: str, *, status: int, words: str = "") -> HttpResponse:
    said = format_html('<p class="errors">{}</p>', words) if words else ""
    response = HttpResponse(said, status=status)
    response[OUTCOME] = outcome
    return response


def _is_recorded(request: HttpRequest) -> bool:
    """Whether this form's key was used by this person. 1 query."""
    key = request.POST.get("key", "")
    if not key or len(key) > LONGEST_KEY or not key.isprintable():
        return False
    return Entry.objects.filter(key=key, user=request.user.pk).exists()


def _offset_s(request: HttpRequest) -> int:
    try:
        seconds = int(request.headers.get(OFFSET, "0"))
    except ValueError:
        return 0
    return max(-LARGEST_OFFSET_S, min(LARGEST_OFFSET_S, seconds))


def _kept(request: HttpRequest, *, delivered_by: User, name_stated: bool) -> Kept:
    now = timezone.now()
    return Kept(
        typed_at=min(read_stamp(request.headers.get(TYPED_AT, "")) or now, now),
        page=request.path,
        delivered_by=delivered_by,
        name_stated=name_stated,
        offset_s=_offset_s(request),
        after_end=AFTER_END in request.headers,
        provisional=VERDICTS.get(request.headers.get(VERDICT, ""), ""),
    )


def _stated(request: HttpRequest) -> User | None:
    """The person in whose name something was typed, if they work in the cellar. 2 queries."""
    pk = request.headers.get(STATED, "")
    found = User.objects.filter(pk=int(pk), is_active=True).first() if pk.isdecimal() else None
    return found if found is not None and may(found, "work_cellar") else None


class DeliveryMiddleware:
    """Answer what tablets kept. Other requests pass untouched, without a query."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        person = request.headers.get(PERSON)
        if person is None or request.method != "POST":
            return self.get_response(request)
        if not request.user.is_authenticated:
            return _answer(SIGNED_OUT, status=401)
        if person != str(request.user.pk):
            return _answer(OTHER_PERSON, status=409)
        sender = request.user
        assert isinstance(sender, User)
        stated = STATED in request.headers
        if stated:
            as_person = _stated(request) if may(sender, "work_cellar") else None
            if as_person is None:
                return _answer(
                    NOBODY, status=403, words="Nobody of that name works in the cellar now."
                )
            # From here on it is theirs, and the action's row says that it was only stated.
            request.user = as_person
        if _is_recorded(request):
            return _answer(ALREADY, status=204)
        kept = None
        if stated or LATE in request.headers:
            kept = _kept(request, delivered_by=sender, name_stated=stated)
            request.arrived = kept  # type: ignore[attr-defined]
        response = self.get_response(request)
        if 300 <= response.status_code < 400:
            # A script cannot read where a redirect leads, and would fetch the page for nothing.
            response[WENT_TO] = response["Location"]
            del response["Location"]
            response.status_code = 204
            response.content = b""
        if response.status_code == 422:
            response[REASONS] = quote(" ".join(getattr(request, "refused", [])))
        if response.status_code < 300:
            response[OUTCOME] = TAKEN
            if kept is not None and kept.final:
                response[VERDICT] = kept.final
        return response

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """No other form is taken in a name that was only stated."""
        kept = getattr(request, "arrived", None)
        if kept is None or not kept.name_stated:
            return None
        found = request.resolver_match
        if found is not None and found.view_name in BY_STATED_NAME:
            return None
        return _answer(NOT_SO, status=403, words="This needs a person who is signed in.")

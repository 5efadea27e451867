"""What a tablet kept and sends: only as the one who typed it, never twice, answered for a script.

A form that a tablet keeps is sent to its own address, with the names of who typed it and when in
headers. Every action, refusal and permission is used as it is; only what a script cannot see of
an answer is said in a header.
"""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from brewhygiene.ledger.models import Entry
from brewhygiene.people.requests import LONGEST_KEY

PERSON, TYPED_AT, LATE = "X-Kept-Person", "X-Kept-Typed-At", "X-Kept-Late"
# What the tablet's script goes by.
OUTCOME, WENT_TO = "X-Kept-Outcome", "X-Kept-Went-To"
SIGNED_OUT, OTHER_PERSON, ALREADY, TAKEN = "signed-out", "other-person", "already", "taken"


def _answer(outcome: str, *, status: int) -> HttpResponse:
    response = HttpResponse(status=status)
    response[OUTCOME] = outcome
    return response


def _is_recorded(request: HttpRequest) -> bool:
    """Whether this form's key was used by this person. 1 query."""
    key = request.POST.get("key", "")
    if not key or len(key) > LONGEST_KEY or not key.isprintable():
        return False
    return Entry.objects.filter(key=key, user=request.user.pk).exists()


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
        if _is_recorded(request):
            return _answer(ALREADY, status=204)
        response = self.get_response(request)
        if 300 <= response.status_code < 400:
            # A script cannot read where a redirect leads, and would fetch the page for nothing.
            response[WENT_TO] = response["Location"]
            del response["Location"]
            response.status_code = 204
            response.content = b""
        if response.status_code < 300:
            response[OUTCOME] = TAKEN
        return response

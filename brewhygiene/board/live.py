"""What a page asks every two seconds: whether anything was recorded since it was made.

The answer is two numbers and nothing else, so it is given to anybody in the building, before any
session is looked at: a page that asks by itself keeps nobody signed in. 1 query, or 2.
"""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from brewhygiene.ledger.models import Entry
from brewhygiene.quantities.parsing import parse_row
from brewhygiene.turnarounds.models import Turnaround

PATH = "/now/"


def now(request: HttpRequest) -> HttpResponse:
    """The number of the last entry, and the revision of the turnaround that was asked for.

    As ``"1204"`` or ``"1204 57"``; 204 where that is what the page has ``seen``.
    """
    last = Entry.objects.order_by("-number").values_list("number", flat=True).first() or 0
    said = str(last)
    pk = parse_row(request.GET.get("turnaround", ""))
    if pk is not None:
        revision = Turnaround.objects.filter(pk=pk).values_list("revision", flat=True).first()
        said = f"{last} {0 if revision is None else revision}"
    if request.GET.get("seen") == said:
        return HttpResponse(status=204)
    return HttpResponse(said, content_type="text/plain")


class LiveMiddleware:
    """Answers that one question before sessions, people and the brewery are read."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path_info == PATH and request.method in ("GET", "HEAD"):
            return now(request)
        return self.get_response(request)

"""The cellar board, a vessel's page, a turnaround's page."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone
from django.utils.cache import patch_vary_headers

from brewhygiene.board.cards import board_of
from brewhygiene.board.look import Look
from brewhygiene.cellar.models import Vessel
from brewhygiene.people.permissions import held_permissions
from brewhygiene.release.following import HtmxRequest, Seen
from brewhygiene.turnarounds.models import Turnaround


def board(request: HtmxRequest) -> HttpResponse:
    """The board; asked again by its own page, only what is new, or 204 where nothing is."""
    seen = Seen.from_text(request.GET.get("seen", "")) if request.htmx else None
    shown = board_of(
        Look.asked(request.GET),
        may=held_permissions(request.user).__contains__,
        now=timezone.now(),
        seen=seen,
    )
    if seen is None:
        template = "board/wall.html" if shown.look.wall else "board/board.html"
    elif seen.digest == shown.seen.digest:
        return HttpResponse(status=204)
    else:
        template = "board/_follow.html"
    moved = seen is not None and seen.letters != shown.seen.letters
    response = render(request, template, {"room": "board", "board": shown, "moved": moved})
    patch_vary_headers(response, ["HX-Request"])
    return response


def vessel(request: HtmxRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel, pk=pk)
    return render(request, "board/vessel.html", {"room": "board", "vessel": found})


def turnaround(request: HtmxRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Turnaround.objects.select_related("vessel"), pk=pk)
    return render(request, "board/turnaround.html", {"room": "board", "turnaround": found})

"""The cellar board, a vessel's page, a turnaround's page."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from brewhygiene.cellar.models import Vessel
from brewhygiene.turnarounds.models import Turnaround


def board(request: HttpRequest) -> HttpResponse:
    return render(request, "board/board.html", {"room": "board"})


def vessel(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Vessel, pk=pk)
    return render(request, "board/vessel.html", {"room": "board", "vessel": found})


def turnaround(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Turnaround.objects.select_related("vessel"), pk=pk)
    return render(request, "board/turnaround.html", {"room": "board", "turnaround": found})

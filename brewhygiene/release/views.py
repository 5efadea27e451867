"""The release queue, the decision, re-sanitising and filling."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from brewhygiene.turnarounds.models import Turnaround


def _page(request: HttpRequest, pk: int, template: str) -> HttpResponse:
    turnaround = get_object_or_404(Turnaround.objects.select_related("vessel"), pk=pk)
    return render(request, template, {"room": "release", "turnaround": turnaround})


def queue(request: HttpRequest) -> HttpResponse:
    return render(request, "release/queue.html", {"room": "release"})


def decide(request: HttpRequest, turnaround_pk: int) -> HttpResponse:
    return _page(request, turnaround_pk, "release/decide.html")


def resanitise(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, pk, "release/resanitise.html")


def fill(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, pk, "release/fill.html")


def fill_without_release(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, pk, "release/fill_without_release.html")

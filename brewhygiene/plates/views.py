"""Plates: due, sent, read, closed."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from brewhygiene.plates.models import Plate
from brewhygiene.turnarounds.models import Turnaround


def due(request: HttpRequest) -> HttpResponse:
    return render(request, "plates/due.html", {"room": "plates"})


def send(request: HttpRequest, pk: int) -> HttpResponse:
    turnaround = get_object_or_404(Turnaround.objects.select_related("vessel"), pk=pk)
    return render(request, "plates/send.html", {"room": "plates", "turnaround": turnaround})


def _page(request: HttpRequest, pk: int, template: str) -> HttpResponse:
    found = get_object_or_404(Plate.objects.select_related("point__vessel"), pk=pk)
    return render(request, template, {"room": "plates", "plate": found})


def plate(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, pk, "plates/plate.html")


def read(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, pk, "plates/read.html")


def resolve(request: HttpRequest, pk: int) -> HttpResponse:
    return _page(request, pk, "plates/close.html")

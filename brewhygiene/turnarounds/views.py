"""Screens of the turnaround: empty, choose a regime, follow the clean, finish or stop it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from brewhygiene.cellar.models import Vessel
from brewhygiene.people.permissions import permission_needed
from brewhygiene.turnarounds.models import Clean, Turnaround


@permission_needed("work_cellar")
def empty(request: HttpRequest, pk: int) -> HttpResponse:
    return render(request, "turnarounds/empty.html", {"vessel": get_object_or_404(Vessel, pk=pk)})


@permission_needed("work_cellar")
def next_beer(request: HttpRequest, pk: int) -> HttpResponse:
    return _thin(request, "next_beer", turnaround=get_object_or_404(Turnaround, pk=pk))


@permission_needed("work_cellar")
def regime(request: HttpRequest, pk: int) -> HttpResponse:
    return _thin(request, "regime", turnaround=get_object_or_404(Turnaround, pk=pk))


@permission_needed("work_cellar")
def opened(request: HttpRequest, pk: int) -> HttpResponse:
    return _thin(request, "opened", turnaround=get_object_or_404(Turnaround, pk=pk))


def clean(request: HttpRequest, pk: int) -> HttpResponse:
    return _thin(request, "clean", clean=get_object_or_404(Clean, pk=pk))


@permission_needed("work_cellar")
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    return _thin(request, "stop", clean=get_object_or_404(Clean, pk=pk))


@permission_needed("work_cellar")
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    return _thin(request, "finish", clean=get_object_or_404(Clean, pk=pk))


def _thin(request: HttpRequest, page: str, **context: object) -> HttpResponse:
    return render(request, f"turnarounds/{page}.html", context)

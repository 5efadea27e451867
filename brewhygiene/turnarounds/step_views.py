"""The one screen of a step: safety, start, timer and readings, end."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from brewhygiene.people.permissions import permission_needed
from brewhygiene.turnarounds.models import Clean, Deviation, StepReading


def _thin(request: HttpRequest, **context: object) -> HttpResponse:
    return render(request, "turnarounds/step.html", context)


@permission_needed("work_cellar")
def step(request: HttpRequest, pk: int, step_pk: int) -> HttpResponse:
    return _thin(request, clean=get_object_or_404(Clean, pk=pk))


safety = start = read = end = leave_out = step


@permission_needed("work_cellar")
def dispose(request: HttpRequest, pk: int) -> HttpResponse:
    return _thin(request, deviation=get_object_or_404(Deviation, pk=pk))


@permission_needed("work_cellar")
def correct_reading(request: HttpRequest, pk: int) -> HttpResponse:
    return _thin(request, reading=get_object_or_404(StepReading, pk=pk))

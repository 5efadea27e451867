"""Screens of the samples due after a clean, and of their results."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render

from brewhygiene.atp.models import Result
from brewhygiene.people.permissions import permission_needed
from brewhygiene.turnarounds.models import Turnaround


def samples(request: HttpRequest, pk: int) -> HttpResponse:
    turnaround = get_object_or_404(Turnaround, pk=pk)
    return render(request, "atp/samples.html", {"turnaround": turnaround})


@permission_needed("work_cellar")
def sample(request: HttpRequest, pk: int, point_pk: int) -> HttpResponse:
    turnaround = get_object_or_404(Turnaround, pk=pk)
    return render(request, "atp/sample.html", {"turnaround": turnaround})


def result(request: HttpRequest, pk: int) -> HttpResponse:
    return render(request, "atp/result.html", {"result": get_object_or_404(Result, pk=pk)})


@permission_needed("work_cellar")
def correct_result(request: HttpRequest, pk: int) -> HttpResponse:
    return render(request, "atp/correct.html", {"result": get_object_or_404(Result, pk=pk)})


def point(request: HttpRequest, code: str) -> HttpResponse:
    return render(request, "atp/sample_not_now.html", {"code": code})

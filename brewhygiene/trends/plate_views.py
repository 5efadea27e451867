"""ATP held against plates."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def plates(request: HttpRequest) -> HttpResponse:
    """What the meter said and what grew, at the same place after the same clean."""
    return render(request, "trends/plates.html", {"room": "plates"})

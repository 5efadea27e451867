"""Baselines: chosen readings of clean vessels, studied, and limits proposed from them."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def baselines(request: HttpRequest) -> HttpResponse:
    return render(request, "atp/baselines.html", {"room": "setup"})


add = baselines


def baseline(request: HttpRequest, pk: int) -> HttpResponse:
    return baselines(request)


def exclude(request: HttpRequest, pk: int, result_pk: int) -> HttpResponse:
    return baselines(request)


readmit = exclude
propose = baseline

"""Views of the set-up."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def first(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def index(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def release_rules(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})

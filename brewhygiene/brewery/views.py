"""Views of the brewery."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def edit(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})

"""Views of people."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def sign_in(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def sign_out(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def switch(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def pin(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def own_password(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def people_list(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def add(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def edit(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def password(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})

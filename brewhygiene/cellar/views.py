"""Views of the cellar set-up."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def vessels(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def vessel_add(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def vessel(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def vessel_edit(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def vessel_photo(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def vessel_photo_set(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def vessel_photo_remove(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def out_of_service(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def back_in_service(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def vessel_remove(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def point_add(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def point_usual(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def point_edit(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def point_retire(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def point_reinstate(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def point_photo(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def point_photo_set(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def point_photo_remove(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def beers(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def beer_add(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def beer_edit(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})


def clocks(request: HttpRequest, **kwargs: Any) -> HttpResponse:
    return render(request, "base.html", {"room": "setup"})

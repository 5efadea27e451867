from django.http import Http404, HttpRequest, HttpResponse


def agents(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def add(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def edit(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404

from django.http import Http404, HttpRequest, HttpResponse


def meters(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def check(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def checked(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404

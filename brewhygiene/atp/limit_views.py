from django.http import Http404, HttpRequest, HttpResponse


def limits(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def propose(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def approve(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def withdraw(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404

from django.http import Http404, HttpRequest, HttpResponse


def regimes(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def regime(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def add(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def edit(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def copy(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def retire(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def reinstate(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def bring_in(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404

from django.http import Http404, HttpRequest, HttpResponse


def meters(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def add_meter(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def edit_meter(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def sticks(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def add_stick_type(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def edit_stick_type(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def add_stick_lot(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404


def edit_stick_lot(request: HttpRequest, **ids: int) -> HttpResponse:
    raise Http404

"""Every request runs in the brewery's own time zone and units."""

import zoneinfo
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from brewhygiene.brewery.models import Brewery


class BreweryMiddleware:
    """Put the brewery on the request and activate its time zone. 1 query."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        brewery = Brewery.current()
        request.brewery = brewery  # type: ignore[attr-defined]
        with timezone.override(zoneinfo.ZoneInfo(brewery.time_zone)):
            return self.get_response(request)

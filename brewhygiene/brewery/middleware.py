"""Every request runs in the brewery's own time zone and units."""

import zoneinfo
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.models import User
from brewhygiene.quantities.style import Style, shown_to


class BreweryMiddleware:
    """Put the brewery on the request and activate its time zone. 1 query."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        brewery = Brewery.current()
        request.brewery = brewery  # type: ignore[attr-defined]
        with timezone.override(zoneinfo.ZoneInfo(brewery.time_zone)):
            return self.get_response(request)


class StyleMiddleware:
    """Show numbers and dates in the person's style, or the brewery's. No query of its own."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        usual = request.brewery.style  # type: ignore[attr-defined]
        person = request.user
        own = ("", "")
        if isinstance(person, User):
            own = person.decimal_sign, person.date_style
        with shown_to(Style.chosen(*own, usual=usual)):
            return self.get_response(request)

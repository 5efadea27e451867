"""What holds for every page: nobody keeps a copy, and nothing is recorded by a wrong clock."""

import re
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.cache import patch_cache_control

from brewhygiene.health.clock import WHAT_TO_DO, clock_watch
from brewhygiene.health.faults import Fault
from brewhygiene.health.refused_page import fault_page

# By a wrong clock somebody may still sign in, change hands or leave: nothing of the cellar.
_WITHOUT_CLOCK = ("/sign-in/", "/sign-out/", "/switch/")

# Only what a view asked for by name.
_KEPT_FOR_A_WHILE = re.compile(r"max-age=[1-9]")

Next = Callable[[HttpRequest], HttpResponse]


class NoStoreMiddleware:
    """``Cache-Control: no-store`` on every answer that does not itself say what may be kept.

    Static files are answered before; a photograph may be kept by the browser that asked for it.
    """

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if not _KEPT_FOR_A_WHILE.search(response.get("Cache-Control", "")):
            patch_cache_control(response, no_store=True)
        return response


class ClockMiddleware:
    """Refuse to record while the clock is behind what is recorded. No query."""

    def __init__(self, get_response: Next) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method != "POST":
            return self.get_response(request)
        now = timezone.now()
        gone_back = clock_watch.gone_back(now)
        if gone_back is not None and not request.path.startswith(_WITHOUT_CLOCK):
            return fault_page(request, Fault("clock", str(gone_back), WHAT_TO_DO))
        response = self.get_response(request)
        if response.status_code < 400:
            clock_watch.passed(now)
        return response

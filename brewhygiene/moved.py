"""Addresses that pages had before: bookmarks, printed labels and open tabs still lead there."""

from django.http import HttpRequest, HttpResponsePermanentRedirect
from django.urls import path

# In the order in which they are tried; what follows ``<path:rest>`` is kept.
MOVED = {
    "cleans/<int:pk>/traces/": "/cleans/{pk}/logger-files/",
    "traces/<path:rest>": "/logger-files/{rest}",
    "set-up/sticks/": "/set-up/atp-tests/",
    "set-up/sticks/types/<path:rest>": "/set-up/atp-tests/{rest}",
    "set-up/sticks/lots/<path:rest>": "/set-up/atp-tests/lots/{rest}",
    "set-up/clocks/": "/set-up/hold-times/",
    "trends/which/": "/trends/compare/",
    "trends/which/<path:rest>": "/trends/compare/{rest}",
}


def _moved(
    request: HttpRequest, *, to: str, pk: int = 0, rest: str = ""
) -> HttpResponsePermanentRedirect:
    """To the page's address of today, with what was asked of it and what was sent to it."""
    asked = request.META.get("QUERY_STRING", "")
    address = to.format(pk=pk, rest=rest) + (f"?{asked}" if asked else "")
    return HttpResponsePermanentRedirect(address, preserve_request=True)


urlpatterns = [path(old, _moved, {"to": new}) for old, new in MOVED.items()]

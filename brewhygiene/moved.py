"""Addresses that pages had before: bookmarks, printed labels and open tabs still lead there."""

from django.http import HttpRequest, HttpResponsePermanentRedirect
from django.urls import path

_PAIR = "set-up/bridges/<int:pk>/pairs/<int:pair>/"
_BASELINE = "set-up/limits/baselines/<int:pk>/"

# In the order in which they are tried; what follows ``<path:rest>`` is kept.
MOVED = {
    "cleans/<int:pk>/traces/": "/cleans/{pk}/logger-files/",
    "traces/<path:rest>": "/logger-files/{rest}",
    "results/<path:rest>": "/atp-readings/{rest}",
    "set-up/sticks/": "/set-up/atp-tests/",
    "set-up/sticks/types/<path:rest>": "/set-up/atp-tests/{rest}",
    "set-up/sticks/lots/<path:rest>": "/set-up/atp-tests/lots/{rest}",
    f"{_PAIR}leave-out/": "/set-up/bridges/{pk}/pairs/{pair}/exclude/",
    f"{_PAIR}take-in/": "/set-up/bridges/{pk}/pairs/{pair}/include/",
    f"{_BASELINE}readmit/<path:rest>": "/set-up/limits/baselines/{pk}/include/{rest}",
    "set-up/limits/<int:pk>/withdraw/": "/set-up/limits/{pk}/retire/",
    "set-up/clocks/": "/set-up/hold-times/",
    "bench/set-right/": "/bench/correct-strength/",
    "bench/repeats/": "/bench/repeatability/",
    "bench/lethality-trace/": "/bench/logged-temperature/",
    "set-up/regimes/bring-in/": "/set-up/regimes/starting/",
    "trends/points/<int:pk>/begin-anew/": "/trends/points/{pk}/new-phase/",
    "trends/rows/told/": "/trends/rows/judged/",
    "trends/rows/not-told/": "/trends/rows/not-judged/",
    "trends/rows/cleaned-again/": "/trends/rows/re-cleaned/",
    "trends/which/": "/trends/compare/",
    "trends/which/<path:rest>": "/trends/compare/{rest}",
}


def _moved(
    request: HttpRequest, *, to: str, pk: int = 0, pair: int = 0, rest: str = ""
) -> HttpResponsePermanentRedirect:
    """To the page's address of today, with what was asked of it and what was sent to it."""
    asked = request.META.get("QUERY_STRING", "")
    address = to.format(pk=pk, pair=pair, rest=rest) + (f"?{asked}" if asked else "")
    return HttpResponsePermanentRedirect(address, preserve_request=True)


urlpatterns = [path(old, _moved, {"to": new}) for old, new in MOVED.items()]

"""The page for what failed below the pages: what to do, and everything that was typed."""

import dataclasses
import re
import sys
from urllib.parse import quote

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

from brewhygiene.health.faults import Fault, fault_of

# Typed again rather than sent back.
_SECRET = re.compile(r"password|passphrase|pin\b|_pin|^pin", re.IGNORECASE)
# Part of the form, and nothing that anybody typed.
_UNSEEN = frozenset({"csrfmiddlewaretoken", "key", "client_time", "next", "revision_seen"})
LARGEST_FIELD = 20_000
MOST_FIELDS = 500


@dataclasses.dataclass(frozen=True)
class Typed:
    """One value as it was sent."""

    name: str
    value: str

    @property
    def label(self) -> str:
        return self.name.replace("_", " ").replace("-", " ").capitalize()

    @property
    def secret(self) -> bool:
        return bool(_SECRET.search(self.name))

    @property
    def seen(self) -> bool:
        return self.name not in _UNSEEN and not self.secret


def server_error(request: HttpRequest) -> HttpResponse:
    """What Django calls for every exception that nobody caught.

    No query and no session: the database may be what failed.
    """
    fault = fault_of(sys.exc_info()[1])
    if fault is None:
        return HttpResponse(render_to_string("500.html"), status=500)
    return fault_page(request, fault)


def fault_page(request: HttpRequest, fault: Fault) -> HttpResponse:
    """503, with what was sent in a form that sends it again; its key counts it once."""
    if request.path == "/healthz":
        return HttpResponse("fault\n", content_type="text/plain", status=503)
    sent = request.method == "POST"
    context = {
        "fault": fault,
        "sent": sent,
        "typed": _typed(request) if sent else [],
        "files": _file_names(request) if sent else [],
        "address": request.get_full_path(),
    }
    response = HttpResponse(render_to_string("health/fault.html", context), status=503)
    # For a form whose answer takes the place of a piece of the page: there the page stays.
    nothing = "Nothing was recorded. " if sent else ""
    response["X-Fault"] = quote(f"{fault.what} {nothing}{fault.do}")
    response["Retry-After"] = "60"
    response["Cache-Control"] = "no-store"
    return response


def _typed(request: HttpRequest) -> list[Typed]:
    try:
        given = [
            Typed(name, value)
            for name, values in request.POST.lists()
            for value in values
            if len(value) <= LARGEST_FIELD
        ]
    except Exception:  # noqa: BLE001 - what was sent cannot be read; the page says what failed
        return []
    return given[:MOST_FIELDS]


def _file_names(request: HttpRequest) -> list[str]:
    try:
        return sorted(request.FILES)
    except Exception:  # noqa: BLE001 - as above
        return []

"""From plain HTTP to HTTPS, once the tablet trusts the certificate.

The server cannot know whether it does, and a redirect would end at a browser's warning. So a page
over plain HTTP tries one small address over HTTPS, and offers the way there when that answers.
"""

import re
from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse

from brewhygiene.certificates.serving import https

# A name or an address of four numbers: what a policy may name (CSP Level 3, host-source).
_HOST = re.compile(r"[a-z0-9.-]+")


def https_origin(request: HttpRequest) -> str:
    """This server over HTTPS, by the name that was asked for; '' where it is not to be offered."""
    if not https.port or request.is_secure():
        return ""
    host = request.get_host().lower().partition(":")[0]
    return f"https://{host}:{https.port}" if _HOST.fullmatch(host) else ""


class MayAskOverHttps:
    """Let the page's script ask that one other origin, and no other."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        if response.headers.get("Content-Type", "").startswith("text/html") and (
            origin := https_origin(request)
        ):
            response._csp_update = {"connect-src": [origin]}  # type: ignore[attr-defined]
        return response


def way_over(request: HttpRequest) -> dict[str, Any]:
    """``https_origin`` for the page: where its script asks."""
    return {"https_origin": https_origin(request)}

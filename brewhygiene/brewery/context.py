from typing import Any

from django.http import HttpRequest


def brewery(request: HttpRequest) -> dict[str, Any]:
    """The brewery, for every page's header."""
    return {"brewery": getattr(request, "brewery", None)}

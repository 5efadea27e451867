from typing import Any

from django.http import HttpRequest

from brewhygiene.people.permissions import held_permissions


def permissions(request: HttpRequest) -> dict[str, Any]:
    """``can.decide_release`` and the like, for templates. 1 query at most."""
    user = getattr(request, "user", None)
    held = held_permissions(user) if user is not None else frozenset()
    return {"can": dict.fromkeys(held, True)}

from typing import Any

from django.http import HttpRequest

from brewhygiene.people.permissions import held_permissions
from brewhygiene.people.signing_in.resting import AFTER_MIN


def permissions(request: HttpRequest) -> dict[str, Any]:
    """``can.decide_release`` and the like, for templates. 1 query at most.

    And ``rest_s``: seconds without a touch after which this tablet signs out, or 0.
    """
    user = getattr(request, "user", None)
    held = held_permissions(user) if user is not None else frozenset()
    session = getattr(request, "session", {})
    return {"can": dict.fromkeys(held, True), "rest_s": 60 * session.get(AFTER_MIN, 0)}

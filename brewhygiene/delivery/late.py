"""When something was typed that arrives later."""

from datetime import datetime

from django.http import HttpRequest
from django.utils import timezone

from brewhygiene.delivery.middleware import LATE, TYPED_AT
from brewhygiene.quantities.days import read_stamp


def typed_at(request: HttpRequest) -> datetime | None:
    """By the tablet's clock, put right by the server's; ``None`` for what is typed just now.

    Never in the future: a clock that was set while it waited cannot be put right. How long ago it
    may be is the action's rule.
    """
    if LATE not in request.headers:
        return None
    moment = read_stamp(request.headers.get(TYPED_AT, ""))
    return None if moment is None else min(moment, timezone.now())

"""When something was typed that arrives later."""

from datetime import datetime

from django.http import HttpRequest
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from brewhygiene.delivery.middleware import LATE, TYPED_AT
from brewhygiene.quantities.days import FIRST_YEAR, LAST_YEAR


def typed_at(request: HttpRequest) -> datetime | None:
    """By the tablet's clock, put right by the server's; ``None`` for what is typed just now.

    Never in the future: a clock that was set while it waited cannot be put right. How long ago it
    may be is the action's rule.
    """
    if LATE not in request.headers:
        return None
    try:
        moment = parse_datetime(request.headers.get(TYPED_AT, ""))
    except ValueError:
        return None
    if moment is None or timezone.is_naive(moment):
        return None
    if not FIRST_YEAR <= moment.year <= LAST_YEAR:
        return None
    return min(moment, timezone.now())

"""From a request to an actor."""

from datetime import datetime

from django.http import HttpRequest
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from brewhygiene.ledger.door import Actor
from brewhygiene.people.models import User


def _client_time(request: HttpRequest) -> datetime | None:
    """The tablet's own clock, where its script sent one that can be read."""
    try:
        moment = parse_datetime(request.POST.get("client_time", ""))
    except ValueError:
        return None
    return moment if moment is not None and timezone.is_aware(moment) else None


def actor_of(request: HttpRequest) -> Actor:
    """Who acts in this request, when, from where, and its idempotency key."""
    user = request.user
    return Actor(
        user=user if isinstance(user, User) else None,
        now=timezone.now(),
        address=request.META.get("REMOTE_ADDR", ""),
        client_time=_client_time(request),
        key=request.POST.get("key", "")[:64] or None,
    )

"""From a request to an actor."""

import dataclasses
from datetime import datetime
from typing import TYPE_CHECKING

from django.core.exceptions import SuspiciousOperation
from django.http import HttpRequest, QueryDict
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from brewhygiene.ledger.recording import Actor
from brewhygiene.people import tablets
from brewhygiene.people.models import User
from brewhygiene.quantities.days import read_stamp

if TYPE_CHECKING:
    from django_htmx.middleware import HtmxDetails

    from brewhygiene.brewery.models import Brewery
    from brewhygiene.ledger.recording import Arrived


LONGEST_KEY = 64


class Request(HttpRequest):
    """A request as the middleware hands it to a view that asks for signing in."""

    brewery: "Brewery"
    htmx: "HtmxDetails"
    # Of what a tablet had kept and sends now.
    arrived: "Arrived"
    # Why its form was not taken.
    refused: list[str]


def _client_time(request: HttpRequest) -> datetime | None:
    """The tablet's own clock, where its script sent one that can be read."""
    return read_stamp(request.POST.get("client_time", ""))


def _key(request: HttpRequest) -> str | None:
    """The form's idempotency key; one that the ledger could not keep whole is refused, not cut."""
    key = request.POST.get("key", "")
    if len(key) > LONGEST_KEY or not key.isprintable():
        raise SuspiciousOperation("An idempotency key that no page of ours sends.")
    return key or None


def _from_where(request: HttpRequest) -> str:
    """The enrolled tablet by name, and the address. 1 query where it carries a tablet's cookie."""
    address: str = request.META.get("REMOTE_ADDR", "")
    tablet = tablets.enrolled(request)
    return f"{tablet}, {address}" if tablet is not None else address


def actor_of(request: HttpRequest) -> Actor:
    """Who acts in this request, when, from where, and its idempotency key."""
    user = request.user
    return Actor(
        user=user if isinstance(user, User) else None,
        now=timezone.now(),
        address=_from_where(request),
        client_time=_client_time(request),
        key=_key(request),
        arrived=getattr(request, "arrived", None),
    )


def actor_of_next(request: HttpRequest, word: str) -> Actor:
    """Who does what follows from the same form; its key follows from the form's, by ``word``.

    So a form that is sent twice does each thing once.
    """
    by = actor_of(request)
    if by.key is None:
        return by
    return dataclasses.replace(by, key=f"{by.key[: LONGEST_KEY - len(word) - 1]}-{word}")


def next_page(request: HttpRequest) -> str:
    """The page of ours that was asked for as ``next``, or ''; another site's is not followed."""
    asked = request.POST.get("next") or request.GET.get("next") or ""
    ours = asked.startswith("/") and url_has_allowed_host_and_scheme(asked, allowed_hosts=None)
    return asked if ours else ""


def sent(request: HttpRequest) -> QueryDict | None:
    """What a form was sent with, or ``None`` where a page is only looked at."""
    return request.POST if request.method == "POST" else None

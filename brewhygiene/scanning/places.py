"""Vessels and sampling points by what is printed on their labels, or by what they are called."""

import dataclasses
from urllib.parse import urlsplit

from django.urls import Resolver404, resolve, reverse

from brewhygiene.cellar.models import SamplingPoint, Vessel
from brewhygiene.quantities.codes.element_strings import plain_text

LONGEST_NAME = 60


@dataclasses.dataclass(frozen=True)
class Place:
    """A page that a label leads to, and what it is of in words."""

    name: str
    address: str


def place_of(text: str, *, addresses_only: bool = False) -> Place | None:
    """The page of a label, a point's code or a vessel's name. 2 queries at most.

    Of an address only its path counts: a label outlives the name of the server that printed it.
    """
    text = plain_text(text)
    if text.lower().startswith(("http://", "https://")):
        return _by_path(text)
    if addresses_only or not text or len(text) > LONGEST_NAME or not text.isprintable():
        return None
    return _by_code(text) or _by_name(text)


def _by_path(address: str) -> Place | None:
    try:
        found = resolve(urlsplit(address).path)
    except (Resolver404, ValueError):
        return None
    if found.view_name == "atp:point":
        return _by_code(found.kwargs["code"])
    if found.view_name == "board:vessel":
        return _vessel(Vessel.objects.filter(pk=found.kwargs["pk"]).first())
    return None


def _by_code(code: str) -> Place | None:
    if not (code.isascii() and code.isalnum()):
        return None
    point = SamplingPoint.objects.select_related("vessel").filter(code__iexact=code).first()
    if point is None:
        return None
    return Place(f"{point.vessel.name}, {point.name}", reverse("atp:point", args=[point.code]))


def _by_name(name: str) -> Place | None:
    return _vessel(Vessel.objects.filter(name__iexact=name).first())


def _vessel(vessel: Vessel | None) -> Place | None:
    if vessel is None:
        return None
    return Place(vessel.name, reverse("board:vessel", args=[vessel.pk]))

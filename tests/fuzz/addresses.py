"""Every address of the product, found by introspection and filled with what a database has."""

import dataclasses
import itertools
import re
from collections.abc import Iterator

from django.apps import apps
from django.urls import URLResolver, get_resolver

from brewhygiene.bench.catalogue import BY_SLUG
from brewhygiene.moved import MOVED

PARAMETER = re.compile(r"([\w-]*)/?<(\w+):(\w+)>")
# What a number in an address counts: by its own name, else by the word before it.
BY_NAME = {
    "point_pk": "samplingpoint",
    "step_pk": "step",
    "result_pk": "result",
    "check_pk": "controlcheck",
    "limits_pk": "limitset",
    "pair_pk": "bridgepair",
    "pair": "bridgepair",
    "turnaround_pk": "turnaround",
}
BY_WORD = {
    "vessels": "vessel",
    "points": "samplingpoint",
    "beers": "beer",
    "changeovers": "validation",
    "people": "user",
    "tablets": "tablet",
    "handover": "handover",
    "turnarounds": "turnaround",
    "cleans": "clean",
    "logger-files": "loggerfile",
    "deviations": "deviation",
    "readings": "stepreading",
    "step-photos": "stepphoto",
    "atp-readings": "result",
    "meters": "meter",
    "atp-tests": "atptest",
    "lots": "atptestlot",
    "limits": "limitset",
    "baselines": "baseline",
    "bridges": "bridge",
    "plates": "plate",
    "recovery": "recoverystudy",
    "agents": "agent",
    "regimes": "regime",
    "ledger": "entry",
    "record": "turnaround",
    "entries": "entrypermit",
    "batches": "batch",
    "crops": "yeastcrop",
    "packaged-lots": "lot",
    "recall-drills": "recalldrill",
    "holds": "hold",
    "movements": "movement",
    "shipments": "shipment",
    "labels": "materiallabel",
    "versions": "regimeversion",
    "skids": "skid",
    "solution-tanks": "solutiontank",
    "solutions": "solution",
}
# Numbers of a row that the two of an address have to be of together.
NEVER = 999_999
AT_MOST = 3


@dataclasses.dataclass(frozen=True)
class Address:
    """One address: its name, its route, and a few paths that it has in this database."""

    name: str
    route: str
    paths: tuple[str, ...]


def _walk(resolver: URLResolver, prefix: str, space: str) -> Iterator[tuple[str, str]]:
    for each in resolver.url_patterns:
        route = prefix + str(each.pattern)
        if isinstance(each, URLResolver):
            if each.namespace == "admin":
                continue  # the admin site walks itself, and is for who looks after the server
            inside = f"{each.namespace}:" if each.namespace else space
            yield from _walk(each, route, inside)
        else:
            yield space + (each.name or f"moved {route}"), as_route(route)


def as_route(route: str) -> str:
    """A regular expression as a route: each named group is a parameter, whatever it may be."""
    return re.sub(r"\^?\(\?P<(\w+)>[^)]*\)", r"<str:\1>", route).removesuffix("$")


def routes() -> dict[str, str]:
    """By name, every route but the admin site's. Raises ``ValueError`` for a name twice."""
    found: dict[str, str] = {}
    for name, route in _walk(get_resolver(), "", ""):
        if name in found:
            raise ValueError(f"{name} is at {found[name]} and at {route}")
        found[name] = route
    return found


def _numbers(model: str) -> list[str]:
    manager = apps.get_model("brewhygiene", model)._default_manager
    newest = list(manager.order_by("-pk").values_list("pk", flat=True)[:AT_MOST])
    return [str(number) for number in newest] or [str(NEVER)]


def _values(word: str, kind: str, name: str) -> list[str]:
    if kind == "int":
        return _numbers(BY_NAME.get(name) or BY_WORD[word])
    if name == "code":
        point = apps.get_model("brewhygiene", "samplingpoint")._default_manager.order_by("pk")[0]
        return [point.code, "nothing"]
    if name == "month":
        return ["2026-02", "2026-13"]
    if name == "what":
        return [*"all", "readings", "cleans", "nothing"]
    if name == "slug":
        return [*BY_SLUG, "nothing"]
    return ["x/"]  # the rest of an address that moved


def paths(route: str) -> tuple[str, ...]:
    """The route filled in. Raises ``KeyError`` for a number that nobody says the meaning of."""
    asked = [_values(*found) for found in PARAMETER.findall(route)]
    filled = []
    for given in itertools.islice(itertools.product(*asked), 2 * AT_MOST):
        values = iter(given)
        filled.append("/" + re.sub(r"<\w+:\w+>", lambda _, v=values: next(v), route))
    return tuple(filled)


def addresses() -> list[Address]:
    return [Address(name, route, paths(route)) for name, route in routes().items()]


def moved() -> set[str]:
    return set(MOVED)

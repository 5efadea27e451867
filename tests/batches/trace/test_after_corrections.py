"""The walk after corrections, against a graph library: as if it had been recorded so at first."""

import random
from typing import Any

import networkx as nx
import pytest

from brewhygiene.batches.corrections.movements.rewriting import rewrite
from brewhygiene.batches.models.movements import Movement, Touch
from brewhygiene.batches.trace.walk import (
    of_touches,
    things_forward,
    things_of,
    walk_backward,
    walk_forward,
)
from tests.batches.genealogy import Genealogy
from tests.batches.trace.test_walk import (
    carried_in,
    graph_of,
    names_in,
    nearest_in,
    random_events,
    ranks,
)
from tests.factories import make_beer, make_user, make_version

pytestmark = pytest.mark.django_db

# Kinds whose source, and whose time, somebody may have mistyped.
TAKEN_FROM = ("transfer", "package", "dump")


def corrected(
    events: list[dict[str, Any]], movements: dict[int, Movement], drawn: Genealogy, seed: int
) -> list[dict[str, Any]]:
    """Some events as they should have been, with their movements rewritten; in their new order."""
    chance = random.Random(seed)
    beer = [event for event in events if "@" in event.get("path", [""])[0]]
    taken = [event for event in beer if event["type"] in TAKEN_FROM]
    fills = sorted(name for name in drawn.things if "@" in name)
    truth = {event["t"]: event for event in events}
    for number, event in enumerate(chance.sample(taken, min(8, len(taken)))):
        movement, right = movements[event["t"]], dict(event)
        if chance.random() < 0.5:
            # No two at the same time: the record has no order of those.
            right["t"] = event["t"] + chance.choice([-0.5, 0.5, -3.5, 3.5]) + number / 100
            rewrite(movement, moved_at=drawn.at(right["t"]))
        if chance.random() < 0.7:
            source = chance.choice([one for one in fills if one != event["path"][-1]])
            vessel = source.split("@")[1]
            right["path"] = [source, vessel, *event["path"][2:]]
            rewrite(movement, from_fill=drawn.things[source])
        truth[event["t"]] = right
    return sorted(truth.values(), key=lambda one: one["t"])


@pytest.mark.parametrize("freed_by_clean", [True, False])
@pytest.mark.parametrize("seed", range(10))
def test_walk_goes_by_what_was_corrected(seed: int, freed_by_clean: bool) -> None:
    events = random_events(seed)
    drawn = Genealogy(by=make_user(), beer=make_beer(), version=make_version())
    drawn.play(events)
    movements = {drawn.hour(one.moved_at): one for one in Movement.objects.all()}
    first = graph_of(events, freed_by_clean=freed_by_clean)
    truth = corrected(events, movements, drawn, seed)
    graph = graph_of(truth, freed_by_clean=freed_by_clean)
    assert not nx.utils.graphs_equal(first, graph)
    beer, yeast = (carried_in(truth, of_yeast=of_yeast) for of_yeast in (False, True))
    for name in sorted({name for name, _ in graph if "@" in name}):
        starts = [node for node in graph if node[0] == name]
        pks = Touch.objects.filter(fill=drawn.things[name]).values_list("pk", flat=True)
        forward = walk_forward(of_touches(pks), freed_by_clean=freed_by_clean)
        assert set(drawn.named(forward)) == names_in(graph, starts), name
        things = things_forward(of_touches(pks), freed_by_clean=freed_by_clean)
        assert things == things_of(forward), name
        if freed_by_clean:
            assert ranks(drawn, name) == nearest_in((beer, yeast, graph), name), name
        backward = walk_backward(of_touches(pks), freed_by_clean=freed_by_clean)
        assert set(drawn.named(backward)) == names_in(graph, starts, back=True), name

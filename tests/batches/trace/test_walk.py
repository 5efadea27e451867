"""The walk against reachability in a time-expanded graph, by a graph library, on random brews."""

import itertools
import random
from typing import Any

import networkx as nx
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from brewhygiene.batches.models.movements import Touch
from brewhygiene.batches.trace.walk import (
    of_touches,
    things_forward,
    things_of,
    walk_backward,
    walk_forward,
)
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import Clean
from tests.batches.genealogy import Genealogy
from tests.evidence import unguarded
from tests.factories import make_beer, make_point, make_user, make_version

pytestmark = pytest.mark.django_db

TANKS = [f"FV{number}" for number in range(1, 5)] + ["BT1", "BT2"]
THROUGH = ["HX1", "H1", "H2", "P1"]


def random_events(seed: int, *, many: int = 60) -> list[dict[str, Any]]:
    """Brews, pitchings, crops, transfers, lots and cleans in any order that a cellar allows."""
    chance = random.Random(seed)
    contains: dict[str, str] = {}
    crops: list[str] = ["Y0"]
    events: list[dict[str, Any]] = []
    for hour in range(1, many + 1):
        way = chance.sample(THROUGH, chance.randint(0, 2))
        full, free = sorted(contains), sorted(set(TANKS) - set(contains))
        kind = chance.choice(
            ["brew", "pitch", "crop", "transfer", "package", "dump", "dry_hop", "clean", "clean"]
        )
        if kind == "brew" and free:
            vessel = chance.choice(free)
            contains[vessel] = f"B{hour}@{vessel}"
            events.append({"type": kind, "t": hour, "path": [*way, vessel, contains[vessel]]})
        elif kind == "pitch" and full:
            vessel = chance.choice(full)
            path = [chance.choice(crops), contains[vessel], vessel]
            events.append({"type": kind, "t": hour, "path": path})
        elif kind == "crop" and full:
            vessel = chance.choice(full)
            crops.append(f"Y{hour}")
            path = [contains[vessel], vessel, *way, crops[-1]]
            events.append({"type": kind, "t": hour, "path": path})
        elif kind == "transfer" and full and free:
            source, target = chance.choice(full), chance.choice(free)
            beer = contains.pop(source) if chance.random() < 0.6 else contains[source]
            contains[target] = f"{beer.split('@')[0]}@{target}"
            if any(contains[target] in event.get("path", ()) for event in events):
                contains[target] = f"B{hour}@{target}"  # a vessel is filled anew
            path = [beer, source, *way, target, contains[target]]
            events.append({"type": kind, "t": hour, "path": path})
        elif kind == "package" and full:
            vessel = chance.choice(full)
            path = [contains[vessel], vessel, *way, f"L{hour}"]
            events.append({"type": kind, "t": hour, "path": path})
        elif kind == "dump" and chance.random() < 0.3:
            events.append({"type": kind, "t": hour, "path": [chance.choice(crops), *way]})
        elif kind == "dump" and full:
            vessel = chance.choice(full)
            beer = contains.pop(vessel) if chance.random() < 0.5 else contains[vessel]
            events.append({"type": kind, "t": hour, "path": [beer, vessel, *way]})
        elif kind == "dry_hop" and full:
            vessel = chance.choice(full)
            beer = [contains[vessel], vessel]
            events.append({"type": kind, "t": hour, "path": [*beer, *way[:1], *beer]})
        elif kind == "clean":
            node = chance.choice([*THROUGH, *free]) if free else chance.choice(THROUGH)
            passed = chance.random() < 0.7
            events.append({"type": kind, "t": hour, "node": node, "passed": passed})
    return events


def graph_of(events: list[dict[str, Any]], *, freed_by_clean: bool) -> nx.DiGraph:
    """Nodes are (thing, event): the stops of each way, and each thing from stop to stop."""
    graph = nx.DiGraph()
    last: dict[str, tuple[str, int]] = {}
    for number, event in enumerate(events):
        if event["type"] == "clean":
            if event["passed"] and freed_by_clean:
                last.pop(event["node"], None)
            continue
        path = [(name, number) for name in event["path"]]
        graph.add_nodes_from(path)
        graph.add_edges_from(itertools.pairwise(path))
        for node in path:
            if node[0] in last:
                graph.add_edge(last[node[0]], node)
            last[node[0]] = node
    return graph


def names_in(graph: nx.DiGraph, starts: Any, *, back: bool = False) -> set[str]:
    reach = nx.ancestors if back else nx.descendants
    found = {name for name, _ in starts}
    for start in starts:
        found |= {name for name, _ in reach(graph, start)}
    return found


@pytest.mark.parametrize("freed_by_clean", [True, False])
@pytest.mark.parametrize("seed", range(12))
def test_walk_finds_what_a_graph_library_finds(seed: int, freed_by_clean: bool) -> None:
    events = random_events(seed)
    drawn = Genealogy(by=make_user(), beer=make_beer(), version=make_version())
    drawn.play(events)
    graph = graph_of(events, freed_by_clean=freed_by_clean)
    fills = sorted({name for name, _ in graph if "@" in name})
    assert len(fills) > 5
    for name in fills:
        starts = [node for node in graph if node[0] == name]
        pks = Touch.objects.filter(fill=drawn.things[name]).values_list("pk", flat=True)
        forward = walk_forward(of_touches(pks), freed_by_clean=freed_by_clean)
        assert set(drawn.named(forward)) == names_in(graph, starts), name
        things = things_forward(of_touches(pks), freed_by_clean=freed_by_clean)
        assert things == things_of(forward), name
        backward = walk_backward(of_touches(pks), freed_by_clean=freed_by_clean)
        assert set(drawn.named(backward)) == names_in(graph, starts, back=True), name


def carried_in(events: list[dict[str, Any]], *, of_yeast: bool) -> nx.DiGraph:
    """The stops of beer and yeast alone; ``of_yeast`` is with pitchings and crops."""
    graph = nx.DiGraph()
    last: dict[str, tuple[str, int]] = {}
    for number, event in enumerate(events):
        if event["type"] == "clean":
            continue
        path = [(name, number) for name in event["path"] if name not in (*TANKS, *THROUGH)]
        graph.add_nodes_from(path)
        if of_yeast or event["type"] not in ("pitch", "crop"):
            graph.add_edges_from(itertools.pairwise(path))
        for node in path:
            if node[0] in last:
                graph.add_edge(last[node[0]], node)
            last[node[0]] = node
    return graph


def nearest_in(graphs: tuple[nx.DiGraph, ...], name: str) -> dict[str, int]:
    """By the name of each thing: the first of the graphs in which it is reached, from 1 on."""
    starts = [node for node in graphs[-1] if node[0] == name]
    reached = [names_in(graph, starts) for graph in graphs]
    return {
        thing: rank
        for rank, names in reversed(list(enumerate(reached, start=1)))
        for thing in names
    }


@pytest.mark.parametrize("seed", range(6))
def test_ranks_are_what_a_graph_library_finds(seed: int) -> None:
    """The beer without its yeast, then with it, then all that is reached."""
    events = random_events(seed)
    drawn = Genealogy(by=make_user(), beer=make_beer(), version=make_version())
    drawn.play(events)
    every = graph_of(events, freed_by_clean=True)
    beer, yeast = (carried_in(events, of_yeast=of_yeast) for of_yeast in (False, True))
    met = set()
    for name in sorted({name for name, _ in every if "@" in name}):
        nearest = nearest_in((beer, yeast, every), name)
        assert ranks(drawn, name) == nearest, name
        met |= set(nearest.values())
    assert met == {1, 2, 3}


@pytest.fixture
def drawn() -> Genealogy:
    return Genealogy(by=make_user(), beer=make_beer(), version=make_version())


def ranks(drawn: Genealogy, start: str = "B1@FV1") -> dict[str, int]:
    pks = Touch.objects.filter(fill=drawn.things[start]).values_list("pk", flat=True)
    found: dict[str, int] = {}
    for one in walk_forward(of_touches(pks), freed_by_clean=True):
        (name,) = drawn.named([one])
        found[name] = min(one.rank, found.get(name, one.rank))
    return found


def test_beer_comes_before_yeast_and_yeast_before_equipment(drawn: Genealogy) -> None:
    drawn.play(
        [
            {"t": 0, "type": "brew", "path": ["HX1", "FV1", "B1@FV1"]},
            {"t": 1, "type": "crop", "path": ["B1@FV1", "FV1", "YV1", "Y1"]},
            {"t": 2, "type": "brew", "path": ["FV2", "B2@FV2"]},
            {"t": 3, "type": "pitch", "path": ["Y1", "YV1", "B2@FV2", "FV2"]},
            {"t": 4, "type": "transfer", "path": ["B1@FV1", "FV1", "H1", "BT1", "B1@BT1"]},
            {"t": 5, "type": "package", "path": ["B1@BT1", "BT1", "P1", "L1"]},
            {"t": 6, "type": "transfer", "path": ["B2@FV2", "FV2", "BT2", "B2@BT2"]},
            {"t": 7, "type": "brew", "path": ["H1", "FV3", "B3@FV3"]},
        ]
    )
    assert ranks(drawn) == {
        "B1@FV1": 1, "B1@BT1": 1, "L1": 1,
        "Y1": 2, "B2@FV2": 2, "B2@BT2": 2,
        "FV1": 3, "YV1": 3, "FV2": 3, "H1": 3, "BT1": 3, "P1": 3, "BT2": 3, "FV3": 3,
        "B3@FV3": 3,
    }  # fmt: skip


def test_beer_that_left_before_is_not_reached(drawn: Genealogy) -> None:
    """Yeast pitched at ten cannot have been in the crop that was taken at nine."""
    drawn.play(
        [
            {"t": 0, "type": "brew", "path": ["FV1", "B1@FV1"]},
            {"t": 1, "type": "brew", "path": ["FV2", "B2@FV2"]},
            {"t": 9, "type": "crop", "path": ["B2@FV2", "FV2", "Y2"]},
            {"t": 9.5, "type": "crop", "path": ["B1@FV1", "FV1", "Y1"]},
            {"t": 10, "type": "pitch", "path": ["Y1", "B2@FV2", "FV2"]},
        ]
    )
    assert sorted(ranks(drawn)) == ["B1@FV1", "B2@FV2", "FV1", "FV2", "Y1"]


@pytest.mark.parametrize(
    "started, finished, freed",
    [(10, 19, True), (9.9, 19, False), (10, 20, True), (10, 20.1, False)],
)
def test_clean_frees_from_touch_to_touch_only(
    drawn: Genealogy, started: float, finished: float, freed: bool
) -> None:
    """It has to begin after the one touch and to end before the next."""
    drawn.play(
        [
            {"t": 0, "type": "brew", "path": ["FV1", "B1@FV1"]},
            {"t": 10, "type": "package", "path": ["B1@FV1", "FV1", "P1", "L1"]},
            {"t": 12, "type": "clean", "node": "P1", "passed": True},
            {"t": 20, "type": "brew", "path": ["P1", "FV2", "B2@FV2"]},
        ]
    )
    with unguarded():
        Clean.objects.update(started_at=drawn.at(started), finished_at=drawn.at(finished))
    assert ("B2@FV2" not in ranks(drawn)) is freed


@pytest.mark.parametrize("decided, freed", [(20, True), (20.1, False)])
def test_clean_frees_only_once_it_is_released(
    drawn: Genealogy, decided: float, freed: bool
) -> None:
    drawn.play(
        [
            {"t": 0, "type": "brew", "path": ["FV1", "B1@FV1"]},
            {"t": 10, "type": "package", "path": ["B1@FV1", "FV1", "P1", "L1"]},
            {"t": 12, "type": "clean", "node": "P1", "passed": True},
            {"t": 20, "type": "brew", "path": ["P1", "FV2", "B2@FV2"]},
        ]
    )
    with unguarded():
        Decision.objects.update(decided_at=drawn.at(decided))
    assert ("B2@FV2" not in ranks(drawn)) is freed


@pytest.mark.parametrize(
    "taken, neutralised, freed",
    [
        (10, True, False),
        (10.1, True, True),
        (20, True, True),
        (20.1, True, False),
        (15, False, False),
    ],
)
def test_negative_plate_frees_where_no_clean_does(
    drawn: Genealogy, taken: float, neutralised: bool, freed: bool
) -> None:
    drawn.play(
        [
            {"t": 0, "type": "brew", "path": ["FV1", "B1@FV1"]},
            {"t": 10, "type": "package", "path": ["B1@FV1", "FV1", "P1", "L1"]},
            {"t": 12, "type": "clean", "node": "P1", "passed": True},
            {"t": 20, "type": "brew", "path": ["P1", "FV2", "B2@FV2"]},
        ]
    )
    filler = drawn.vessel("P1")
    Plate.objects.create(
        vessel=filler,
        turnaround=filler.turnarounds.get(),
        point=make_point(filler),
        medium="WLN",
        taken_in="PAA",
        neutraliser="thiosulfate" if neutralised else "none",
        neutralised=neutralised,
        taken_at=drawn.at(taken),
        due_on=drawn.at(30).date(),
        sent_by=drawn.by,
        state=PlateState.NEGATIVE,
        read_at=drawn.at(30),
        read_by=drawn.by,
    )
    pks = Touch.objects.filter(fill=drawn.things["B1@FV1"]).values_list("pk", flat=True)
    reached = drawn.named(walk_forward(of_touches(pks), freed_by_clean=False))
    assert ("B2@FV2" not in reached) is freed


def test_walk_is_one_query_however_far_it_goes(drawn: Genealogy) -> None:
    drawn.play(random_events(3, many=90))
    counts = set()
    for name in sorted(name for name in drawn.things if "@" in name)[:3]:
        pks = list(Touch.objects.filter(fill=drawn.things[name]).values_list("pk", flat=True))
        with CaptureQueriesContext(connection) as asked:
            walk_forward(of_touches(pks), freed_by_clean=True)
            walk_backward(of_touches(pks), freed_by_clean=True)
        counts.add(len(asked))
    assert counts == {2}


def test_nearest_are_kept_where_a_walk_comes_to_too_many(
    drawn: Genealogy, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn.play(random_events(3, many=90))
    walks = []
    for name in sorted(name for name in drawn.things if "@" in name):
        pks = Touch.objects.filter(fill=drawn.things[name]).values_list("pk", flat=True)
        seeds = of_touches(pks)
        walks.append((walk_forward(seeds, freed_by_clean=True), seeds))
    every, seeds = max(walks, key=lambda walk: (len({one.rank for one in walk[0]}), len(walk[0])))
    assert {one.rank for one in every} == {1, 2, 3}
    near = sum(one.rank < 3 for one in every)
    monkeypatch.setattr("brewhygiene.batches.trace.walk.MOST_TOUCHES", near)
    kept = walk_forward(seeds, freed_by_clean=True)
    assert len(kept) == near + 1
    assert [one for one in kept if one.rank < 3] == [one for one in every if one.rank < 3]
    assert kept == sorted(kept, key=lambda one: (one.moved_at, one.touch_pk))


def test_nothing_comes_of_nothing(drawn: Genealogy) -> None:
    assert walk_forward(of_touches([]), freed_by_clean=True) == []

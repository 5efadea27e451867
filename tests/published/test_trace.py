"""A trace against a genealogy drawn by hand, and against what the rules of recall ask for.

The genealogy and both rules: a worked example, computed by a chronological walk of its own and
checked against reachability in a time-expanded graph (networkx 3.6.1). Traps in it: B2 never met
B1, but its lot L3 follows B1 through the filler, whose clean failed; B4 is at risk under rule A
only; the heat exchanger is upstream of B1; Y1 carries the trouble to B3 before the plate is read.
"""

import pytest

from brewhygiene.batches.models.movements import Touch
from brewhygiene.batches.trace.walk import of_touches, walk_backward, walk_forward
from tests.batches.genealogy import Genealogy
from tests.factories import make_beer, make_user, make_version

pytestmark = pytest.mark.django_db

EVENTS = (
    {"t": 0, "type": "brew", "path": ["HX1", "FV1", "B1@FV1"]},
    {"t": 1, "type": "pitch", "path": ["Y0", "B1@FV1"]},
    {"t": 24, "type": "brew", "path": ["HX1", "FV2", "B2@FV2"]},
    {"t": 25, "type": "pitch", "path": ["Y0", "B2@FV2"]},
    {"t": 120, "type": "crop", "path": ["B1@FV1", "YV1", "Y1"]},
    {"t": 130, "type": "brew", "path": ["HX1", "FV3", "B3@FV3"]},
    {"t": 131, "type": "pitch", "path": ["YV1", "Y1", "B3@FV3"]},
    {"t": 199, "type": "hold", "path": ["B1@FV1", "FV1"]},
    {"t": 200, "type": "transfer", "path": ["B1@FV1", "H1", "BT1", "B1@BT1"]},
    {"t": 210, "type": "transfer", "path": ["B2@FV2", "H2", "BT2", "B2@BT2"]},
    {"t": 215, "type": "clean", "node": "FV1", "passed": True},
    {"t": 220, "type": "clean", "node": "H1", "passed": True},
    {"t": 230, "type": "package", "path": ["B1@BT1", "P1", "L1"]},
    {"t": 231, "type": "package", "path": ["B1@BT1", "P1", "L2"]},
    {"t": 232, "type": "hold", "path": ["B1@BT1", "BT1"]},
    {"t": 240, "type": "brew", "path": ["HX1", "FV1", "B4@FV1"]},
    {"t": 241, "type": "pitch", "path": ["Y2", "B4@FV1"]},
    {"t": 250, "type": "package", "path": ["B2@BT2", "P1", "L3"]},
    {"t": 260, "type": "clean", "node": "BT1", "passed": True},
    {"t": 270, "type": "clean", "node": "P1", "passed": False},
    {"t": 300, "type": "transfer", "path": ["B3@FV3", "H2", "BT1", "B3@BT1"]},
    {"t": 320, "type": "package", "path": ["B3@BT1", "P1", "L4"]},
    {"t": 340, "type": "transfer", "path": ["B4@FV1", "H1", "BT2", "B4@BT2"]},
)
BACKWARD = {"Y0": 1, "FV1": 0, "HX1": 0}
FORWARD_B = {
    "B1@FV1": 0, "Y1": 120, "YV1": 120, "B3@FV3": 131, "FV1": 199, "B1@BT1": 200, "BT1": 200,
    "H1": 200, "L1": 230, "P1": 230, "L2": 231, "L3": 250, "B3@BT1": 300, "H2": 300, "L4": 320,
}  # fmt: skip
FORWARD_A = {**FORWARD_B, "B4@FV1": 240, "B4@BT2": 340, "BT2": 340}
SHARED_A = {"B2@FV2": 24, "FV2": 24, "FV3": 130, "B2@BT2": 210}
SHARED_B = {**SHARED_A, "BT2": 210, "B4@FV1": 240, "B4@BT2": 340}


@pytest.fixture
def drawn() -> Genealogy:
    genealogy = Genealogy(by=make_user(), beer=make_beer(), version=make_version())
    genealogy.play(EVENTS)
    return genealogy


def start(drawn: Genealogy, *, until_hour: float = 1000) -> list[int]:
    touches = Touch.objects.filter(fill=drawn.things["B1@FV1"], moved_at__lte=drawn.at(until_hour))
    return [touch.pk for touch in touches]


@pytest.mark.parametrize(
    "freed_by_clean, forward, shared",
    [(False, FORWARD_A, SHARED_A), (True, FORWARD_B, SHARED_B)],
    ids=["A, until a negative plate", "B, a passed clean frees equipment"],
)
def test_hand_drawn_brewery(
    drawn: Genealogy,
    freed_by_clean: bool,
    forward: dict[str, float],
    shared: dict[str, float],
) -> None:
    found = drawn.named(walk_forward(of_touches(start(drawn)), freed_by_clean=freed_by_clean))
    assert found == forward
    # What had flowed into the beer when it was sampled, at hour 100.
    seeds = of_touches(start(drawn, until_hour=100))
    back = walk_backward(seeds, freed_by_clean=freed_by_clean)
    assert {name: hour for name, hour in drawn.named(back).items() if name != "B1@FV1"} == BACKWARD
    suspects = of_touches((one.touch_pk for one in back if one.fill_pk is None), rank=3)
    also = drawn.named(walk_forward(suspects, freed_by_clean=freed_by_clean))
    assert {
        name: hour for name, hour in also.items() if name not in forward and name not in BACKWARD
    } == shared

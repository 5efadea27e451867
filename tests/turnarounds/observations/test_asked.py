"""Which steps ask for which observations."""

import pytest

from brewhygiene.cellar.models import VesselKind
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models.observations import Observation
from brewhygiene.turnarounds.observations.asked import TANKS, asked_observations, words_of
from tests.factories import Cellar, add_step, make_version

pytestmark = pytest.mark.django_db
ASKED = {
    StepKind.HAND_CLEAN: ["looks_clean"],
    StepKind.RINSE: ["looks_clean", "smells_clean"],
    StepKind.DRAIN: ["drains_free"],
}


def asked(*kinds: str, vessel: str = "fermenter") -> list[list[str]]:
    """What each step of a regime of these kinds asks for."""
    cellar = Cellar()
    cellar.version = make_version(steps=False, vessel_kinds=[vessel])
    for kind in kinds:
        add_step(cellar.version, kind)
    cellar.vessel.kind = vessel
    cellar.vessel.save()
    # A draught line without an acid clean on record asks for acid.
    clean = cellar.started(cellar.emptied(), weaker_reason="No acid here")
    steps = clean.version.steps.order_by("order")
    return [[one.value for one in asked_observations(clean, step)] for step in steps]


@pytest.mark.parametrize("kind", StepKind)
def test_what_a_kind_of_step_asks_for(kind: StepKind) -> None:
    assert asked(kind) == [ASKED.get(kind, [])]


def test_only_the_last_rinse_is_looked_at_and_smelt() -> None:
    both = ["looks_clean", "smells_clean"]
    assert asked("rinse", "acid", "rinse", "sanitiser") == [[], [], both, []]


@pytest.mark.parametrize("kind", VesselKind)
def test_only_a_tank_is_seen_to_drain(kind: VesselKind) -> None:
    tank = kind.value in (
        "fermenter",
        "bright_tank",
        "mixing_tank",
        "liquor_tank",
        "yeast_vessel",
        "serving_tank",
        "dry_hop_gear",
    )
    assert (kind in TANKS) is tank
    assert asked("drain", vessel=kind.value) == [["drains_free"] if tank else []]


def test_answers_in_words() -> None:
    assert [words_of(one, yes=True) for one in Observation] == [
        "looks clean",
        "smells clean",
        "drains free",
    ]
    assert [words_of(one, yes=False) for one in Observation] == [
        "does not look clean",
        "does not smell clean",
        "does not drain free",
    ]
    assert words_of("smells_clean", yes=False, note="Hop oil") == "does not smell clean: Hop oil"

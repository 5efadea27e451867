"""The most that may be left without a rinse, as read and as remembered."""

from collections.abc import Callable

import pytest

from brewhygiene.regimes.library.agents import AGENTS
from brewhygiene.regimes.library.regimes import REGIMES
from brewhygiene.regimes.models import Agent, AgentKind, Basis, Quantity
from brewhygiene.regimes.rules.no_rinse import FROM_MEMORY, READ, STARTING_MAXIMA, exceeded_maxima
from brewhygiene.regimes.rules.problems import rinsed_after

Published = Callable[..., None]

FOUND = [
    ("PAA", READ, 500, "65 FR 75168 (1 Dec 2000), read"),
    ("H2O2", READ, 1100, "65 FR 75174 (1 Dec 2000), read"),
    ("PAA", FROM_MEMORY, 200, "21 CFR 178.1010 (peracetic acid 100 to 200 ppm), from memory"),
    ("H2O2", FROM_MEMORY, 1100, "21 CFR 178.1010 (peroxide 550 to 1,100 ppm), from memory"),
    ("chlorine", FROM_MEMORY, 200, "21 CFR 178.1010 (available chlorine), from memory"),
    ("iodine", FROM_MEMORY, 25, "21 CFR 178.1010 (iodophor), from memory"),
    ("quat", FROM_MEMORY, 200, "21 CFR 178.1010 (200 to 400 by product), from memory"),
    ("quat", FROM_MEMORY, 400, "21 CFR 178.1010 (200 to 400 by product), from memory"),
]


@pytest.mark.parametrize(("substance", "provenance", "max_mg_l", "source"), FOUND)
def test_starting_maximum_is_as_found(
    published: Published, substance: str, provenance: str, max_mg_l: float, source: str
) -> None:
    ours = [
        starting.max_mg_l
        for starting in STARTING_MAXIMA[substance]
        if starting.provenance == provenance and starting.source.split(" (")[0] in source
    ]
    assert max_mg_l in ours
    published(
        f"no-rinse {substance} ({provenance}), mg/L",
        ours[ours.index(max_mg_l)],
        max_mg_l,
        source,
        tolerance=0,
    )


def test_nothing_else_is_claimed_to_have_been_found() -> None:
    ours = {
        (substance, starting.provenance, starting.max_mg_l)
        for substance, maxima in STARTING_MAXIMA.items()
        for starting in maxima
    }
    assert ours == {row[:3] for row in FOUND}


@pytest.mark.parametrize("substance", STARTING_MAXIMA)
def test_warning_starts_just_above_the_least_figure_found(substance: str) -> None:
    least = min(row[2] for row in FOUND if row[0] == substance)
    assert exceeded_maxima(substance=substance, max_mg_l=least) == []
    assert exceeded_maxima(substance=substance, max_mg_l=least + 0.1) != []


@pytest.mark.parametrize("values", AGENTS, ids=lambda values: values.name)
def test_shipped_agent_is_within_every_figure_found(published: Published, values: Agent) -> None:
    assert not values.no_rinse_allowed or values.kind == AgentKind.SANITISER
    above = exceeded_maxima(
        substance=values.active_substance, max_mg_l=values.no_rinse_max_mg_l or 0
    )
    published(f"{values.name}: figures found that it is above", above, [], "the rows above")


def test_shipped_regime_leaves_no_more_than_its_agent_may(published: Published) -> None:
    agents = {values.name: Agent(**vars(values)) for values in AGENTS}
    left = 0.0
    for starting in REGIMES:
        steps = starting.steps(agents)
        for position, step in enumerate(steps):
            if step.kind != AgentKind.SANITISER or rinsed_after(steps, position):
                continue
            window = step.window(Quantity.CONCENTRATION)
            assert (window.basis, step.agent.no_rinse_allowed) == (Basis.MG_L, True)
            left = max(left, window.maximum or 0.0)
    published(
        "most left without a rinse by a starting regime, mg/L",
        left,
        200,
        "21 CFR 178.1010 (peracetic acid 100 to 200 ppm), from memory",
        tolerance=0,
    )

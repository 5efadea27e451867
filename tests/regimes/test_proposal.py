"""The proposed regime: the strongest of what everything asks for, with the reasons."""

import pytest

from brewhygiene.cellar.models import Beer, Vessel
from brewhygiene.regimes.models import StepKind
from brewhygiene.regimes.proposal import Proposal, asks_of, propose
from brewhygiene.regimes.queries import current_versions
from tests.factories import add_step, make_agent, make_beer, make_version, make_vessel

pytestmark = pytest.mark.django_db


@pytest.fixture
def vessel() -> Vessel:
    return make_vessel()


@pytest.fixture(autouse=True)
def regimes() -> None:
    caustic, acid = make_agent(), make_agent(kind="acid", active_substance="HNO3")
    plain = make_version(name="Caustic only", level=2, steps=False)
    add_step(plain, StepKind.CAUSTIC, agent=caustic)
    both = make_version(name="Caustic and acid", level=2, steps=False)
    add_step(both, StepKind.CAUSTIC, agent=caustic)
    add_step(both, StepKind.ACID, agent=acid)
    strong = make_version(name="After sour", level=3, steps=False)
    add_step(strong, StepKind.CAUSTIC, agent=caustic)
    add_step(strong, StepKind.ACID, agent=acid)
    make_version(name="For hoses", level=3, vessel_kinds=["hose_set"])
    make_version(name="Sanitise again", level=3, resanitises_only=True)


def proposed(
    vessel: Vessel,
    last: Beer | None,
    following: Beer | None = None,
    *,
    acid: int = 0,
    caustic: int = 0,
) -> Proposal:
    asks = asks_of(
        vessel=vessel,
        last_beer=last,
        next_beer=following,
        cleans_since_acid=acid,
        cleans_since_caustic=caustic,
    )
    return propose(vessel=vessel, asks=asks, candidates=current_versions())


def name(proposal: Proposal) -> str:
    assert proposal.version is not None
    return proposal.version.regime.name


def test_ordinary_beer_asks_for_the_vessels_own_rule(vessel: Vessel) -> None:
    proposal = proposed(vessel, make_beer())
    assert [ask.origin for ask in proposal.asks] == ["vessel"]
    assert proposal.level == 2


def test_vessels_preferred_regime_goes_first_where_it_will_do(vessel: Vessel) -> None:
    plain = current_versions().get(regime__name="Caustic only").regime
    both = current_versions().get(regime__name="Caustic and acid").regime
    vessel.default_regime = plain
    assert name(proposed(vessel, make_beer())) == "Caustic only"
    vessel.default_regime = both
    assert name(proposed(vessel, make_beer())) == "Caustic and acid"


def test_overdue_acid_is_asked_for_at_its_turn(vessel: Vessel) -> None:
    plain = current_versions().get(regime__name="Caustic only").regime
    vessel.default_regime, vessel.acid_every_n = plain, 5
    assert name(proposed(vessel, make_beer(), acid=3)) == "Caustic only"
    overdue = proposed(vessel, make_beer(), acid=4)
    assert name(overdue) == "Caustic and acid"
    assert overdue.reasons[-1] == "4 cleans since the last acid step, due every 5"


@pytest.mark.parametrize("trait", ["sour_or_mixed", "diastatic"])
def test_what_was_in_it_decides(vessel: Vessel, trait: str) -> None:
    assert name(proposed(vessel, make_beer(**{trait: True}))) == "After sour"


def test_what_comes_next_may_ask_for_more(vessel: Vessel) -> None:
    strict = make_beer(name="No-alcohol (invented)", strict_before=True)
    proposal = proposed(vessel, make_beer(), strict)
    assert name(proposal) == "After sour"
    assert proposal.reasons[-1] == "Next beer No-alcohol (invented) needs a strong clean"


def test_unknown_contents_ask_for_the_strong_clean(vessel: Vessel) -> None:
    assert name(proposed(vessel, None)) == "After sour"


def test_no_weaker_regime_meets_what_is_asked(vessel: Vessel) -> None:
    proposal = proposed(vessel, make_beer(sour_or_mixed=True), acid=9)
    met = {v.regime.name for v in current_versions() if proposal.is_met_by(v)}
    assert "After sour" in met
    assert "Caustic only" not in met


def test_what_no_regime_gives_is_said(vessel: Vessel) -> None:
    for version in current_versions().filter(regime__name__in=["After sour", "Caustic and acid"]):
        version.regime.active = False
        version.regime.save()
    proposal = proposed(vessel, make_beer(sour_or_mixed=True), acid=9)
    assert name(proposal) == "Caustic only"
    assert proposal.unmet == ["only ordinary", "no acid step"]


def test_vessel_without_any_regime_gets_none() -> None:
    proposal = proposed(make_vessel(kind="keg"), make_beer())
    assert proposal.version is None

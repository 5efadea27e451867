"""Regimes that harm a vessel which prefers them, where they are saved."""

import pytest

from brewhygiene.cellar.models import Vessel
from brewhygiene.people.models import User
from brewhygiene.regimes import actions
from brewhygiene.regimes.actions import RegimeRefused
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft, drafts_of
from tests.factories import PASSWORD, acting, make_agent, make_head_brewer, make_vessel
from tests.regimes.test_actions import RINSE, made, saved, version_in_force

pytestmark = pytest.mark.django_db


@pytest.fixture
def brewer() -> User:
    return make_head_brewer()


def test_regime_that_harms_a_vessel_which_prefers_it_is_refused_at_its_step(brewer: User) -> None:
    regime = made(brewer)
    make_vessel(name="AL 1", material="aluminium", default_regime=regime)
    make_vessel(name="AL 2", material="aluminium")
    wash = StepDraft("caustic", make_agent(name="Caustic liquor"))
    with pytest.raises(RegimeRefused) as refused:
        saved(brewer, regime, RINSE, wash, RINSE)
    (problem,) = refused.value.problems
    assert (problem.step, problem.field) == (1, "agent")
    assert problem.message.startswith("The vessel of AL 1 is unfit. Caustic liquor (")
    assert problem.message.endswith(" AL 1 prefers this regime.")
    assert drafts_of(version_in_force(regime)) == [RINSE]
    Vessel.objects.update(material="stainless_304")
    saved(brewer, regime, RINSE, wash, RINSE)


def test_caustic_too_hot_for_a_draught_line_is_refused_by_the_kinds_of_vessel(
    brewer: User,
) -> None:
    hot = WindowDraft("temperature_c", 50, None, 61, source=COMMON_PRACTICE)
    wash = StepDraft("caustic", make_agent(), windows=(hot,))
    made(brewer, wash, RINSE, name="Hoses", vessel_kinds=["hose_set"])
    with pytest.raises(RegimeRefused) as refused:
        made(brewer, wash, RINSE, name="Lines", vessel_kinds=["draught_line"])
    assert refused.value.problems[0].field == "temperature_c_maximum"


def test_retired_regime_that_harms_a_vessel_which_prefers_it_stays_retired(brewer: User) -> None:
    regime = made(brewer, StepDraft("caustic", make_agent()), RINSE)
    actions.retire_regime(by=acting(brewer), regime=regime, password=PASSWORD)
    make_vessel(name="AL 1", material="aluminium", default_regime=regime)
    with pytest.raises(RegimeRefused) as refused:
        actions.reinstate_regime(by=acting(brewer), regime=regime, password=PASSWORD)
    assert refused.value.problems[0].message.endswith(" AL 1 prefers this regime.")
    regime.refresh_from_db()
    assert regime.active is False

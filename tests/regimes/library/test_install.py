"""The starting regimes: all of them may be run, and each window says where it is from."""

import pytest

from brewhygiene.cellar.models import CleanLevel, VesselKind
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed
from brewhygiene.regimes.about import AgentValues
from brewhygiene.regimes.actions import save_agent
from brewhygiene.regimes.drafts import StepDraft
from brewhygiene.regimes.library.agents import AGENTS
from brewhygiene.regimes.library.install import install_library, missing_regimes
from brewhygiene.regimes.library.regimes import REGIMES, StartingRegime
from brewhygiene.regimes.models import Agent, Regime, RegimeVersion, StepWindow
from brewhygiene.regimes.rules.advice import advice_on
from brewhygiene.regimes.rules.problems import problems_of
from tests.factories import PASSWORD, acting, make_cellar_hand, make_head_brewer


def shipped_agents() -> dict[str, Agent]:
    return {values.name: Agent(**vars(values)) for values in AGENTS}


def shipped_steps(starting: StartingRegime) -> list[StepDraft]:
    return starting.steps(shipped_agents())


each_regime = pytest.mark.parametrize("starting", REGIMES, ids=lambda starting: starting.about.name)


@each_regime
def test_starting_regime_may_be_run(starting: StartingRegime) -> None:
    assert (
        problems_of(
            shipped_steps(starting),
            under_co2=starting.about.under_co2,
            resanitises_only=starting.about.resanitises_only,
        )
        == []
    )


@each_regime
def test_starting_regime_gives_no_cause_for_advice(starting: StartingRegime) -> None:
    assert advice_on(shipped_steps(starting), vessel_kinds=starting.about.vessel_kinds) == []


@pytest.mark.django_db
def test_library_is_brought_in_with_agents_and_windows() -> None:
    installed = install_library(by=acting(make_head_brewer()), password=PASSWORD)
    assert [regime.name for regime in installed.regimes] == [s.about.name for s in REGIMES]
    assert [agent.name for agent in installed.agents] == [values.name for values in AGENTS]
    assert set(Regime.objects.values_list("shipped", flat=True)) == {True}
    expected = sum(len(step.windows) for starting in REGIMES for step in shipped_steps(starting))
    assert StepWindow.objects.count() == expected


@pytest.mark.django_db
def test_library_brought_in_twice_adds_nothing() -> None:
    brewer = make_head_brewer()
    install_library(by=acting(brewer), password=PASSWORD)
    entries = Entry.objects.count()
    again = install_library(by=acting(brewer), password=PASSWORD)
    assert (again.agents, again.regimes) == ([], [])
    assert Entry.objects.count() == entries


@pytest.mark.django_db
def test_library_leaves_what_the_site_has_under_the_same_name() -> None:
    brewer = make_head_brewer()
    own = save_agent(
        by=acting(brewer),
        values=AgentValues(
            name="caustic liquor 50 %",
            kind="caustic",
            active_substance="NaOH",
            concentrate_strength_ww=48,
        ),
    )
    install_library(by=acting(brewer), password=PASSWORD)
    used = Agent.objects.filter(kind="caustic")
    assert [(agent.pk, agent.concentrate_strength_ww) for agent in used] == [(own.pk, 48)]


@pytest.mark.django_db
def test_library_is_refused_to_the_cellar_role() -> None:
    with pytest.raises(NotAllowed):
        install_library(by=acting(make_cellar_hand()), password=PASSWORD)
    assert (Agent.objects.count(), RegimeVersion.objects.count()) == (0, 0)


def test_missing_regimes_ignores_case() -> None:
    names = [starting.about.name.upper() for starting in REGIMES]
    assert missing_regimes(names[1:]) == [REGIMES[0]]


@pytest.mark.parametrize("kind", VesselKind.values)
def test_every_kind_of_vessel_has_an_ordinary_starting_regime(kind: str) -> None:
    fitting = [
        starting.about.name
        for starting in REGIMES
        if kind in starting.about.vessel_kinds
        and starting.about.level >= CleanLevel.ORDINARY
        and not starting.about.resanitises_only
    ]
    assert fitting != []

"""The verbs of agents and regimes."""

import dataclasses
from typing import Any

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import User
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.regimes import actions
from brewhygiene.regimes.about import About, AgentValues
from brewhygiene.regimes.actions import RegimeRefused, content_mark
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft, drafts_of
from brewhygiene.regimes.models import Agent, Regime, RegimeVersion
from brewhygiene.regimes.queries import versions_for_history
from tests.factories import (
    PASSWORD,
    Cellar,
    acting,
    make_agent,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
    make_peracetic,
)

pytestmark = pytest.mark.django_db

ABOUT = About(name="Tank", vessel_kinds=["fermenter"])
TIME = WindowDraft("time_min", 5, 10, 20, source=COMMON_PRACTICE)
RINSE = StepDraft("rinse", windows=(TIME,))


@pytest.fixture
def brewer() -> User:
    return make_head_brewer()


def made(brewer: User, *steps: StepDraft, **about: Any) -> Regime:
    return actions.create_regime(
        by=acting(brewer),
        about=dataclasses.replace(ABOUT, **about),
        steps=steps or [RINSE],
        password=PASSWORD,
    )


def saved(brewer: User, regime: Regime, *steps: StepDraft, **values: Any) -> RegimeVersion:
    regime.refresh_from_db()
    return actions.save_regime_version(
        by=acting(brewer),
        regime=regime,
        steps=steps,
        password=PASSWORD,
        **{"about": About.of(regime), **values},
    )


def version_in_force(regime: Regime) -> RegimeVersion:
    return versions_for_history(regime).get(current=True)


def used(regime: Regime) -> Regime:
    """The regime after a clean by its version in force."""
    cellar = Cellar()
    cellar.version = regime.versions.get(current=True)
    cellar.started(cellar.emptied())
    return regime


def test_regime_is_created_with_steps_windows_and_one_entry(brewer: User) -> None:
    agent = make_agent()
    wash = StepDraft(
        "caustic",
        agent,
        instruction=" Circulate. ",
        windows=(WindowDraft("concentration", 1.5, 2, 3, basis="ww", source="us"), TIME),
    )
    ended = StepDraft("rinse", end_criterion="neutral", end_criterion_source="us")
    regime = made(brewer, wash, ended)
    version = version_in_force(regime)
    assert (version.number, version.created_by) == (1, brewer)
    assert drafts_of(version) == [dataclasses.replace(wash, instruction="Circulate."), ended]
    entry = Entry.objects.get()
    assert (entry.verb, entry.subject_label, len(entry.values["steps"])) == (
        "add regime",
        "Tank",
        2,
    )


@pytest.mark.parametrize("who", [make_cellar_hand, make_owner])
def test_verbs_are_refused_to_other_roles(brewer: User, who: Any) -> None:
    by = acting(who())
    regime = made(brewer)
    for call in (
        lambda: actions.create_regime(by=by, about=ABOUT, steps=[RINSE], password=PASSWORD),
        lambda: actions.save_regime_version(
            by=by, regime=regime, about=ABOUT, steps=[RINSE], password=PASSWORD
        ),
        lambda: actions.copy_regime(by=by, regime=regime, name="Copy", password=PASSWORD),
        lambda: actions.retire_regime(by=by, regime=regime, password=PASSWORD),
        lambda: actions.reinstate_regime(by=by, regime=regime, password=PASSWORD),
        lambda: actions.save_agent(by=by, values=VALUES),
    ):
        with pytest.raises(NotAllowed):
            call()
    assert (Regime.objects.count(), Entry.objects.count()) == (1, 1)


def test_regime_that_may_not_be_run_is_refused_whole(brewer: User) -> None:
    caustic = StepDraft("caustic", make_agent())
    with pytest.raises(RegimeRefused) as refused:
        made(brewer, RINSE, caustic)
    assert refused.value.message.startswith("Step 2: Caustic liquor")
    assert [problem.step for problem in refused.value.problems] == [1]
    assert (Regime.objects.count(), Entry.objects.count()) == (0, 0)


@pytest.mark.parametrize(
    ("about", "field"),
    [
        ({"name": " "}, "name"),
        ({"name": "x" * 81}, "name"),
        ({"vessel_kinds": []}, "vessel_kinds"),
        ({"vessel_kinds": ["bucket"]}, "vessel_kinds"),
        ({"level": 9}, "level"),
        ({"level": 3, "under_co2": True}, "under_co2"),
    ],
)
def test_what_a_regime_is_has_to_make_sense(
    brewer: User, about: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        made(brewer, **about)
    assert refused.value.field == field


def test_regime_name_is_taken_whatever_its_case(brewer: User) -> None:
    made(brewer)
    with pytest.raises(Refusal) as refused:
        made(brewer, name="TANK")
    assert (refused.value.field, refused.value.code) == ("name", "name_taken")


def test_unused_version_changes_in_place(brewer: User) -> None:
    regime = made(brewer)
    version = saved(brewer, regime, StepDraft("drain"))
    assert version.number == 1
    assert [step.kind for step in version_in_force(regime).steps.all()] == ["drain"]


def test_used_version_stays_and_the_next_one_is_in_force(brewer: User) -> None:
    regime = used(made(brewer))
    version = saved(brewer, regime, RINSE, StepDraft("drain"), change_note="Drain it too")
    assert (version.number, version.change_note, version.created_by) == (2, "Drain it too", brewer)
    assert list(regime.versions.order_by("number").values_list("number", "current")) == [
        (1, False),
        (2, True),
    ]
    assert [step.kind for step in regime.versions.get(number=1).steps.all()] == ["rinse"]


def test_used_version_needs_a_change_note(brewer: User) -> None:
    regime = used(made(brewer))
    with pytest.raises(Refusal) as refused:
        saved(brewer, regime, StepDraft("drain"), change_note=" ")
    assert (refused.value.field, refused.value.code) == ("change_note", "no_change_note")
    assert regime.versions.count() == 1


def test_second_change_of_an_unused_next_version_stays_in_place(brewer: User) -> None:
    regime = used(made(brewer))
    saved(brewer, regime, StepDraft("drain"), change_note="First")
    version = saved(brewer, regime, StepDraft("vent"), change_note="Second")
    assert (version.number, version.change_note, regime.versions.count()) == (2, "Second", 2)


def test_saving_a_used_version_unchanged_makes_no_version(brewer: User) -> None:
    regime = used(made(brewer))
    version = saved(brewer, regime, RINSE)
    assert (version.number, regime.versions.count()) == (1, 1)


def test_name_and_vessels_of_a_used_regime_change_without_a_version(brewer: User) -> None:
    regime = used(made(brewer))
    about = dataclasses.replace(ABOUT, name="Big tank", vessel_kinds=["bright_tank"])
    saved(brewer, regime, RINSE, about=about)
    regime.refresh_from_db()
    assert (regime.name, regime.vessel_kinds, regime.versions.count()) == (
        "Big tank",
        ["bright_tank"],
        1,
    )
    values = Entry.objects.last().values
    assert (values["before"]["name"], values["after"]["name"]) == ("Tank", "Big tank")


def test_vessels_ticked_in_another_order_are_no_change(brewer: User) -> None:
    regime = made(brewer, vessel_kinds=["keg", "fermenter"])
    saved(
        brewer,
        regime,
        RINSE,
        about=dataclasses.replace(About.of(regime), vessel_kinds=["keg", "fermenter"]),
    )
    regime.refresh_from_db()
    assert regime.vessel_kinds == ["fermenter", "keg"]
    assert Entry.objects.last().values["after"] == {}


@pytest.mark.parametrize("change", [{"level": 3}, {"resanitises_only": True}, {"under_co2": True}])
def test_what_a_used_regime_is_worth_is_settled(brewer: User, change: dict[str, Any]) -> None:
    steps = [RINSE, StepDraft("sanitiser", make_peracetic())]
    regime = used(made(brewer, *steps))
    with pytest.raises(Refusal) as refused:
        saved(brewer, regime, *steps, about=dataclasses.replace(ABOUT, **change))
    assert (refused.value.field, refused.value.code) == (next(iter(change)), "settled_by_use")


def test_change_over_another_change_is_refused(brewer: User) -> None:
    regime = made(brewer)
    seen = content_mark(version_in_force(regime))
    saved(brewer, regime, StepDraft("drain"), seen=seen)
    with pytest.raises(Refusal) as refused:
        saved(brewer, regime, StepDraft("vent"), seen=seen)
    assert refused.value.code == "stale"
    assert [step.kind for step in version_in_force(regime).steps.all()] == ["drain"]


def test_refused_change_leaves_the_version_whole(brewer: User) -> None:
    regime = made(brewer)
    with pytest.raises(RegimeRefused):
        saved(brewer, regime, StepDraft("caustic"))
    assert drafts_of(version_in_force(regime)) == [RINSE]


def test_copy_has_the_steps_and_says_where_it_is_from(brewer: User) -> None:
    regime = made(brewer, under_co2=True, level=1)
    copied = actions.copy_regime(
        by=acting(brewer), regime=regime, name="Own tank", password=PASSWORD
    )
    version = version_in_force(copied)
    assert drafts_of(version) == [RINSE]
    assert (copied.under_co2, copied.level, copied.shipped) == (True, 1, False)
    assert version.provenance == "Copied from Tank, version 1."


def test_copy_under_a_taken_name_is_refused(brewer: User) -> None:
    regime = made(brewer)
    with pytest.raises(Refusal) as refused:
        actions.copy_regime(by=acting(brewer), regime=regime, name="tank", password=PASSWORD)
    assert refused.value.field == "name"


def test_regime_is_retired_and_reinstated(brewer: User) -> None:
    regime = made(brewer)
    assert (
        actions.retire_regime(by=acting(brewer), regime=regime, password=PASSWORD).active is False
    )
    with pytest.raises(Refusal):
        actions.retire_regime(by=acting(brewer), regime=regime, password=PASSWORD)
    assert (
        actions.reinstate_regime(by=acting(brewer), regime=regime, password=PASSWORD).active is True
    )


def test_regime_without_a_version_is_refused_in_words(brewer: User) -> None:
    bare = Regime.objects.create(name="Bare", vessel_kinds=["keg"])
    for call in (
        lambda: actions.copy_regime(by=acting(brewer), regime=bare, name="Copy", password=PASSWORD),
        lambda: actions.reinstate_regime(by=acting(brewer), regime=bare, password=PASSWORD),
        lambda: saved(brewer, bare, RINSE),
    ):
        with pytest.raises(Refusal) as refused:
            call()
        assert refused.value.code == "no_version"


def test_regime_that_may_no_longer_be_run_is_not_reinstated(brewer: User) -> None:
    agent = make_peracetic()
    regime = made(brewer, StepDraft("sanitiser", agent))
    actions.retire_regime(by=acting(brewer), regime=regime, password=PASSWORD)
    Agent.objects.filter(pk=agent.pk).update(active=False)
    with pytest.raises(RegimeRefused):
        actions.reinstate_regime(by=acting(brewer), regime=regime, password=PASSWORD)
    regime.refresh_from_db()
    assert regime.active is False


VALUES = AgentValues(
    name="Peracetic acid 5 %",
    kind="sanitiser",
    active_substance="PAA",
    concentrate_strength_ww=5,
    no_rinse_allowed=True,
    no_rinse_max_mg_l=150,
    no_rinse_source="the label",
)


def test_agent_is_added_with_all_it_is(brewer: User) -> None:
    agent = actions.save_agent(by=acting(brewer), values=VALUES)
    agent.refresh_from_db()
    assert {name: getattr(agent, name) for name in vars(VALUES)} == vars(VALUES)


def test_agent_is_changed_and_the_ledger_keeps_what_was(brewer: User) -> None:
    agent = actions.save_agent(by=acting(brewer), values=VALUES)
    changed = dataclasses.replace(VALUES, no_rinse_max_mg_l=200)
    actions.save_agent(by=acting(brewer), values=changed, agent=agent)
    values = Entry.objects.last().values
    assert (values["before"], values["after"]) == (
        {"no_rinse_max_mg_l": 150},
        {"no_rinse_max_mg_l": 200},
    )


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"name": ""}, "name"),
        ({"kind": "soap"}, "kind"),
        ({"active_substance": "NaOH"}, "active_substance"),
        ({"concentrate_strength_ww": 101}, "concentrate_strength_ww"),
        ({"concentrate_strength_ww": 0}, "concentrate_strength_ww"),
        ({"no_rinse_max_mg_l": None}, "no_rinse_max_mg_l"),
        ({"no_rinse_max_mg_l": 0}, "no_rinse_max_mg_l"),
        ({"no_rinse_source": " "}, "no_rinse_source"),
        ({"kind": "caustic", "active_substance": "NaOH"}, "no_rinse_allowed"),
        ({"kind": "acid", "active_substance": "HNO3"}, "no_rinse_allowed"),
    ],
)
def test_agent_that_makes_no_sense_is_refused(
    brewer: User, change: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refusal) as refused:
        actions.save_agent(by=acting(brewer), values=dataclasses.replace(VALUES, **change))
    assert refused.value.field == field
    assert Agent.objects.count() == 0


def test_agent_name_is_taken_whatever_its_case(brewer: User) -> None:
    actions.save_agent(by=acting(brewer), values=VALUES)
    with pytest.raises(Refusal) as refused:
        actions.save_agent(
            by=acting(brewer), values=dataclasses.replace(VALUES, name="PERACETIC ACID 5 %")
        )
    assert refused.value.code == "name_taken"


def test_agent_in_a_regime_stays_what_it_is(brewer: User) -> None:
    agent = actions.save_agent(by=acting(brewer), values=VALUES)
    made(brewer, StepDraft("sanitiser", agent))
    with pytest.raises(Refusal) as refused:
        actions.save_agent(
            by=acting(brewer),
            values=dataclasses.replace(VALUES, active_substance="H2O2"),
            agent=agent,
        )
    assert (refused.value.field, refused.value.code) == ("active_substance", "agent_in_use")
    stronger = dataclasses.replace(VALUES, concentrate_strength_ww=6)
    assert actions.save_agent(
        by=acting(brewer), values=stronger, agent=agent
    ).concentrate_strength_ww == pytest.approx(6)

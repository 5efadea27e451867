"""What a skid or a hose last carried, across vessels and cleans."""

from datetime import timedelta

import pytest

from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Agent
from brewhygiene.skids.questions import carried_by_gear
from brewhygiene.turnarounds.circuits.actions import change_gear
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.queries import cleans_with_records, usual_gear
from brewhygiene.turnarounds.steps.safety import required_codes
from tests.factories import NOW, acting, make_agent, make_peracetic, make_vessel
from tests.skids.scenes import SkidCellar

LATER = NOW + timedelta(hours=2)


def chlorine() -> Agent:
    return make_agent(
        name="Hypo (invented)", kind="sanitiser", active_substance="chlorine",
        concentrate_strength_ww=12, concentrate_density_kg_l=1.2,
    )  # fmt: skip


def acid() -> Agent:
    return make_agent(
        name="Nitric (invented)", kind="acid", active_substance="HNO3",
        concentrate_strength_ww=53, concentrate_density_kg_l=1.33,
    )  # fmt: skip


def carried_hypo(house: SkidCellar, **gear: object) -> Clean:
    """Hypochlorite ran through FV 3 at 09:10, and the clean was stopped."""
    fv = make_vessel(name="FV 3")
    clean = house.began(house.regime(("sanitiser", chlorine(), "")), vessel=fv, **gear)
    house.step_done(clean, 1, now=NOW + timedelta(minutes=10))
    house.stopped(clean, now=NOW + timedelta(minutes=20))
    return clean


LAST = "Skid 1 last carried Hypo (invented), in FV 3 at 09:10, and was not rinsed."


@pytest.mark.parametrize("agent", [acid, make_peracetic])
def test_an_agent_that_must_not_meet_it_is_refused_in_the_next_vessel(
    house: SkidCellar, agent: object
) -> None:
    assert callable(agent)
    carried_hypo(house)
    version = house.regime(("sanitiser", agent(), ""))
    with pytest.raises(Refusal) as refused:
        house.began(version, vessel=house.other_vessel, now=LATER)
    assert refused.value.field == "skid"
    assert refused.value.code == "agents_meet"
    assert refused.value.message.startswith(f"{LAST} Step 1 in FV 99: ")
    assert not Clean.objects.filter(turnaround__vessel=house.other_vessel).exists()


def test_it_is_refused_at_the_step_that_would_bring_them_together(house: SkidCellar) -> None:
    clean = house.began(
        house.regime(("acid", acid(), "")), vessel=house.other_vessel, now=NOW, skid=None
    )
    carried_hypo(house)
    Clean.objects.filter(pk=clean.pk).update(skid=house.skid)
    with pytest.raises(Refusal) as refused:
        house.step_begun(clean, 1, now=LATER)
    assert refused.value.code == "agents_meet"
    assert LAST in refused.value.message
    assert "Nothing of it may reach FV 99." in refused.value.message


def test_another_skid_takes_the_clean(house: SkidCellar) -> None:
    carried_hypo(house)
    other = house.made_skid("Portable 1", "portable")
    version = house.regime(("acid", acid(), ""))
    clean = house.began(version, vessel=house.other_vessel, now=LATER, skid=other)
    assert clean.skid == other


def test_a_proved_rinse_in_a_clean_on_the_skid_clears_it(house: SkidCellar) -> None:
    clean = carried_hypo(house)
    again = house.began(
        house.regime(("rinse", None, "neutral"), ("sanitiser", chlorine_again(), "")),
        now=NOW + timedelta(minutes=30),
        turnaround=clean.turnaround,
    )
    house.step_done(again, 1, now=NOW + timedelta(minutes=31), met=True)
    assert carried_by_gear([house.skid]) == {house.skid.pk: []}
    house.stopped(again, now=NOW + timedelta(minutes=40))
    version = house.regime(("acid", acid(), ""))
    assert house.began(version, vessel=house.other_vessel, now=LATER).skid == house.skid


def chlorine_again() -> Agent:
    return Agent.objects.get(active_substance="chlorine")


@pytest.mark.parametrize(
    ("kind", "end", "met"),
    [("rinse", "runs_clear", True), ("rinse", "neutral", False), ("drain", "drained", True)],
)
def test_what_proves_nothing_clears_nothing(
    house: SkidCellar, kind: str, end: str, met: bool
) -> None:
    clean = carried_hypo(house)
    version = house.regime((kind, None, end), ("sanitiser", chlorine_again(), ""))
    again = house.began(version, now=NOW + timedelta(minutes=30), turnaround=clean.turnaround)
    house.step_done(again, 1, now=NOW + timedelta(minutes=31), met=met)
    left = carried_by_gear([house.skid])[house.skid.pk]
    assert [(one.agent.name, one.vessel) for one in left] == [("Hypo (invented)", "FV 3")]


def test_a_rinse_elsewhere_clears_nothing_on_this_skid(house: SkidCellar) -> None:
    clean = carried_hypo(house)
    other = house.made_skid("Portable 1", "portable")
    version = house.regime(("rinse", None, "neutral"), ("sanitiser", chlorine_again(), ""))
    again = house.began(
        version, now=NOW + timedelta(minutes=30), turnaround=clean.turnaround, skid=other
    )
    house.step_done(again, 1, now=NOW + timedelta(minutes=31), met=True)
    assert len(carried_by_gear([house.skid])[house.skid.pk]) == 1


def test_a_rinse_of_the_skid_by_itself_clears_what_came_before_it(house: SkidCellar) -> None:
    carried_hypo(house)
    house.rinsed(house.skid, now=NOW + timedelta(minutes=9))
    assert len(carried_by_gear([house.skid])[house.skid.pk]) == 1
    house.rinsed(house.skid, now=NOW + timedelta(minutes=30))
    assert carried_by_gear([house.skid]) == {house.skid.pk: []}


def test_a_rinse_that_does_not_show_its_end_is_refused(house: SkidCellar) -> None:
    with pytest.raises(Refusal, match="caustic is left") as refused:
        house.rinsed(house.skid, value=7.8)
    assert refused.value.field == "value"
    assert house.rinsed(house.skid, value=7.7).value == 7.7


def test_a_hose_carries_it_too(house: SkidCellar) -> None:
    hose = house.made_skid("Hose 4", "hose")
    carried_hypo(house, skid=None, hose=hose)
    version = house.regime(("acid", acid(), ""))
    with pytest.raises(Refusal, match="Hose 4 last carried Hypo") as refused:
        house.began(version, vessel=house.other_vessel, now=LATER, hose=hose)
    assert refused.value.field == "hose"
    clean = house.began(version, turnaround=refused_turnaround(house), now=LATER)
    assert clean.gear_words == "Skid 1"


def refused_turnaround(house: SkidCellar):  # type: ignore[no-untyped-def]
    return house.other_vessel.turnarounds.get()


def test_what_may_meet_with_care_is_a_caution_of_the_step(house: SkidCellar) -> None:
    first = house.began(house.regime(("caustic", house.caustic, "")), vessel=make_vessel())
    house.step_done(first, 1, now=NOW)
    version = house.regime(("acid", acid(), ""))
    clean = house.began(version, vessel=house.other_vessel, now=LATER)
    loaded = cleans_with_records().get(pk=clean.pk)
    codes = required_codes(loaded, loaded.version.steps.all()[0])
    assert codes["gear_meets_NaOH"].startswith(
        "Caustic liquor (invented) may still be in Skid 1. It last carried it in "
    )


def test_what_a_clean_may_leave_without_a_rinse_asks_for_no_tick(house: SkidCellar) -> None:
    peracetic = make_peracetic()
    first = house.began(house.regime(("sanitiser", peracetic, "")), vessel=make_vessel())
    house.step_done(first, 1, now=NOW)
    version = house.regime(("caustic", house.caustic, ""))
    clean = house.began(version, vessel=house.other_vessel, now=LATER)
    loaded = cleans_with_records().get(pk=clean.pk)
    step = loaded.version.steps.all()[0]
    assert [code for code in required_codes(loaded, step) if code.startswith("gear")] == []
    peracetic.no_rinse_allowed = False
    peracetic.save()
    loaded = cleans_with_records().get(pk=clean.pk)
    codes = required_codes(loaded, loaded.version.steps.all()[0])
    assert [code for code in codes if code.startswith("gear")] == ["gear_meets_PAA"]


def test_a_regime_that_harms_the_skid_is_refused(house: SkidCellar) -> None:
    copper = house.made_skid("Old skid", "portable", material="copper")
    with pytest.raises(Refusal, match="Old skid is unfit") as refused:
        house.began(house.regime(("acid", acid(), "")), skid=copper)
    assert (refused.value.field, refused.value.code) == ("skid", "unfit_material")


def test_a_retired_skid_and_a_hose_for_a_skid_are_refused(house: SkidCellar) -> None:
    retired = house.made_skid("Skid 7", active=False)
    hose = house.made_skid("Hose 4", "hose")
    version = house.regime(("caustic", house.caustic, ""))
    turnaround = house.emptied()
    for skid, code in ((retired, "retired"), (hose, "other_kind")):
        with pytest.raises(Refusal) as refused:
            house.began(version, turnaround=turnaround, skid=skid)
        assert (refused.value.field, refused.value.code) == ("skid", code)


def test_steps_keep_what_they_ran_on_when_the_clean_changes_its_skid(house: SkidCellar) -> None:
    other = house.made_skid("Portable 1", "portable")
    version = house.regime(("pre_rinse", None, ""), ("caustic", house.caustic, ""))
    clean = house.began(version)
    first = house.step_done(clean, 1)
    change_gear(by=acting(house.hand), clean=clean, skid=other)
    second = house.step_begun(clean, 2)
    assert (first.skid, second.skid) == (house.skid, other)
    with pytest.raises(Refusal, match="Caustic is running"):
        change_gear(by=acting(house.hand), clean=clean, skid=house.skid)


def test_the_last_gear_of_a_vessel_is_usual_else_the_only_skid(house: SkidCellar) -> None:
    assert usual_gear(house.vessel) == ([house.skid], house.skid, None)
    other = house.made_skid("Portable 1", "portable")
    hose = house.made_skid("Hose 4", "hose")
    assert usual_gear(house.vessel)[1:] == (None, None)
    house.began(house.regime(("pre_rinse", None, "")), skid=other, hose=hose)
    assert usual_gear(house.vessel) == ([hose, other, house.skid], other, hose)


def test_gear_costs_two_queries_however_many(
    house: SkidCellar, django_assert_num_queries: object
) -> None:
    assert callable(django_assert_num_queries)
    skids = [house.skid]
    with django_assert_num_queries(2):
        carried_by_gear(skids)
    skids += [house.made_skid(f"Skid {number}") for number in (2, 3)]
    carried_hypo(house)
    with django_assert_num_queries(2):
        carried_by_gear(skids)

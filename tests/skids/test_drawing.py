"""A step draws from a tank: which solution may be used, and where it goes at the end."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Quantity
from brewhygiene.skids.models import Solution
from brewhygiene.skids.solutions import actions as solution_actions
from brewhygiene.turnarounds.deviations import actions as deviation_actions
from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records
from brewhygiene.turnarounds.readings import actions as reading_actions
from brewhygiene.turnarounds.steps import actions as step_actions
from brewhygiene.turnarounds.steps.safety import required_codes
from brewhygiene.turnarounds.steps.solutions.drawing import (
    FRESH,
    Draws,
    offered_solutions,
    usual_solution,
)
from tests.factories import NOW, acting, add_step, make_agent, make_beer, make_version, make_vessel
from tests.skids.scenes import SkidCellar
from tests.skids.test_gear import acid

LATER = NOW + timedelta(days=2)


def refused(house: SkidCellar, clean: Clean, draws: Draws, **at: Any) -> Refusal:
    with pytest.raises(Refusal) as found:
        house.step_begun(clean, 1, draws, **at)
    assert not StepRecord.objects.filter(clean=clean).exists()
    return found.value


def caustic_clean(house: SkidCellar, **values: Any) -> Clean:
    version = house.regime(("caustic", house.caustic, ""))
    return house.began(version, **{"vessel": make_vessel(), **values})


def test_a_step_keeps_which_solution_it_drew_and_how_strong_that_last_was(
    house: SkidCellar,
) -> None:
    made = house.made_up()
    record = house.step_begun(caustic_clean(house), 1, Draws(solution=made), now=LATER)
    words = "Caustic tank 1: 2 % w/w, made up 2 days ago, 0 uses"
    assert (record.skid, record.solution, record.made_fresh) == (house.skid, made, False)
    assert record.solution_words == words
    values = Entry.objects.latest("number").values
    assert (values["skid"], values["solution"]) == ("Skid 1", words)


def test_where_a_tank_contains_it_the_solution_has_to_be_said(house: SkidCellar) -> None:
    clean = caustic_clean(house)
    made = house.made_up()
    found = refused(house, clean, Draws())
    assert (found.field, found.code) == ("solution", "no_solution")
    record = house.step_begun(clean, 1, Draws(made_fresh=True))
    assert (record.solution, record.made_fresh) == (None, True)
    assert house.state(made).uses == 0


def test_without_a_fitting_tank_or_a_skid_nothing_is_asked(house: SkidCellar) -> None:
    house.made_up()
    without = caustic_clean(house, skid=None)
    other = house.began(house.regime(("acid", acid(), "")), vessel=make_vessel())
    for clean in (without, other):
        assert house.step_begun(clean, 1).made_fresh is False


@pytest.mark.parametrize("code", ["other_agent", "other_skid", "dumped"])
def test_a_solution_that_this_step_cannot_have_is_refused(house: SkidCellar, code: str) -> None:
    made = house.made_up(agent=acid(), strength=1) if code == "other_agent" else house.made_up()
    clean = caustic_clean(house)
    if code == "other_skid":
        clean = caustic_clean(house, skid=house.made_skid("Skid 2"))
    if code == "dumped":
        house.dumped(made)
    found = refused(house, clean, Draws(solution=made))
    assert (found.field, found.code) == ("solution", code)


def test_past_its_rule_a_solution_is_refused(house: SkidCellar) -> None:
    house.ruled(most_uses=2)
    made = house.made_up()
    house.used(made)
    house.used(made)
    found = refused(house, caustic_clean(house), Draws(solution=made, reason="In a hurry"))
    assert (found.field, found.code) == ("solution", "past_rule")
    assert found.message == (
        "Caustic tank 1 is past its dump rule: 2 uses, and the rule allows 2. Dump it and make it "
        "up fresh, or choose another."
    )


def test_where_the_signed_rule_allows_it_a_reason_is_asked_for(house: SkidCellar) -> None:
    house.ruled(most_uses=1, may_explain=True)
    made = house.made_up()
    house.used(made, reason="Not past it yet")
    clean = caustic_clean(house)
    found = refused(house, clean, Draws(solution=made, reason="  "))
    assert (found.field, found.code) == ("solution_reason", "no_reason")
    record = house.step_begun(clean, 1, Draws(solution=made, reason=" Titrated at noon "))
    assert record.solution_reason == "Titrated at noon"
    # Nothing is kept where none was needed.
    assert StepRecord.objects.get(solution=made, solution_reason="").clean != clean


def test_soil_and_carbonate_that_were_read_count_at_the_next_step(house: SkidCellar) -> None:
    house.ruled(most_carbonate_percent=25, dump_soiled=True)
    made = house.made_up()
    given = solution_actions.TwoEndPoints(
        first_ml=10, second_ml=11.5, titrant_eq_l=0.5, sample_ml=10
    )
    by = acting(house.hand)
    solution_actions.check_solution(by=by, solution=made, strength=given)
    found = refused(house, caustic_clean(house), Draws(solution=made))
    assert "carbonate is 26 % of the alkalinity, and the rule allows 25 %" in found.message
    house.ruled(dump_soiled=True)
    solution_actions.check_solution(by=by, solution=made, soiled=True)
    found = refused(house, caustic_clean(house), Draws(solution=made))
    assert "soil was seen in it" in found.message


def test_the_end_says_where_it_went_and_back_is_no_deviation(house: SkidCellar) -> None:
    made = house.made_up()
    clean = caustic_clean(house)
    record = house.step_begun(clean, 1, Draws(solution=made))
    with pytest.raises(Refusal) as found:
        step_actions.end_step(by=acting(house.hand), record=record)
    assert (found.value.field, found.value.code) == ("outflow", "no_outflow")
    ended = step_actions.end_step(by=acting(house.hand), record=record, outflow="returned")
    assert ended.outflow == "returned"
    assert not Deviation.objects.exists()


def dairy_clean(house: SkidCellar, *steps: Any) -> Clean:
    stout = make_beer(name="Brindle Stout (invented)", allergens=["milk"])
    turnaround = house.emptied(vessel=make_vessel(name="FV 3"), beer=stout)
    return house.began(house.regime(*steps), turnaround=turnaround)


def test_what_took_back_an_allergen_must_be_dumped_before_its_next_use(
    house: SkidCellar,
) -> None:
    house.ruled(may_explain=True)
    made = house.made_up()
    clean = dairy_clean(house, ("caustic", house.caustic, ""))
    house.step_done(clean, 1, Draws(solution=made), outflow="returned")
    found = refused(house, caustic_clean(house), Draws(solution=made, reason="Only a little"))
    assert (found.field, found.code) == ("solution", "must_dump")
    assert found.message.startswith(
        "Caustic tank 1 must be dumped before its next use. It took back what was in FV 3. Went "
        "back to the tank. To the drain, not back to the tank: Brindle Stout (invented) has milk"
    )
    house.dumped(made, reason="carried", now=LATER)
    again = house.made_up(now=LATER)
    assert house.step_begun(caustic_clean(house), 1, Draws(solution=again), now=LATER).solution


def test_what_went_to_the_drain_spoils_nothing(house: SkidCellar) -> None:
    made = house.made_up()
    clean = dairy_clean(house, ("caustic", house.caustic, ""))
    house.step_done(clean, 1, Draws(solution=made), outflow="dumped")
    assert house.state(made).must_dump == ""


def test_water_that_went_back_may_be_in_any_tank_of_the_skid(house: SkidCellar) -> None:
    acid_tank = house.made_tank("Acid tank 1")
    elsewhere = house.made_tank("Acid tank 2", house.made_skid("Skid 2"))
    nitric = acid()
    caustic, own = house.made_up(), house.made_up(acid_tank, nitric, strength=1)
    other = house.made_up(elsewhere, nitric, strength=1)
    clean = dairy_clean(house, ("rinse", None, ""))
    house.step_done(clean, 1, outflow="returned")
    spoilt = {one.tank.name: bool(house.state(one).must_dump) for one in (caustic, own, other)}
    assert spoilt == {"Caustic tank 1": True, "Acid tank 1": True, "Acid tank 2": False}
    assert house.state(caustic).uses == 0


def test_a_fresh_solution_that_went_back_is_in_a_tank_of_its_agent(house: SkidCellar) -> None:
    acid_tank = house.made_tank("Acid tank 1")
    caustic, own = house.made_up(), house.made_up(acid_tank, acid(), strength=1)
    clean = dairy_clean(house, ("caustic", house.caustic, ""))
    house.step_done(clean, 1, Draws(made_fresh=True), outflow="returned")
    assert [bool(house.state(one).must_dump) for one in (caustic, own)] == [True, False]


def test_what_was_made_up_afterwards_took_nothing_back(house: SkidCellar) -> None:
    clean = dairy_clean(house, ("rinse", None, ""))
    house.step_done(clean, 1, outflow="returned", now=NOW)
    made = house.made_up(now=NOW + timedelta(minutes=5, seconds=1))
    assert house.state(made, now=LATER).must_dump == ""


def test_a_step_that_goes_on_goes_on_with_its_solution(house: SkidCellar) -> None:
    house.ruled(most_uses=1)
    made = house.made_up()
    version = make_version(steps=False)
    add_step(version, "caustic", agent=house.caustic, windows={"temperature_c": (60, 85)})
    clean = house.began(version)
    record = house.step_begun(clean, 1, Draws(solution=made))
    step_actions.end_step(by=acting(house.hand), record=record, outflow="returned")
    deviation_actions.dispose_deviation(
        by=acting(house.hand), deviation=Deviation.objects.get(), disposition="extend"
    )
    again = house.step_begun(clean, 1, now=LATER)
    assert (again.extends, again.solution) == (record, made)
    assert house.state(made).uses == 1


def test_a_reading_in_the_step_is_the_solutions_last_strength(house: SkidCellar) -> None:
    made = house.made_up()
    record = house.step_begun(caustic_clean(house), 1, Draws(solution=made))
    reading_actions.record_reading(
        by=acting(house.hand, now=NOW + timedelta(minutes=2)),
        record=record,
        quantity=Quantity.CONCENTRATION,
        value=1.7,
        basis="ww",
    )
    assert house.state(made, now=LATER).strength.value == 1.7


def test_a_step_without_the_timer_says_it_too(house: SkidCellar) -> None:
    made = house.made_up()
    clean = caustic_clean(house)
    loaded = cleans_with_records().get(pk=clean.pk)
    step = progress_of(loaded).steps[0].step
    step_actions.acknowledge_safety(
        by=acting(house.hand), clean=loaded, step=step, codes=required_codes(loaded, step)
    )
    loaded = cleans_with_records().get(pk=clean.pk)
    record = step_actions.state_step(
        by=acting(house.hand, now=NOW + timedelta(hours=1)),
        clean=loaded,
        step=step,
        started_at=NOW + timedelta(minutes=1),
        ended_at=NOW + timedelta(minutes=30),
        outflow="returned",
        draws=Draws(solution=made),
    )
    assert (record.solution, record.outflow, record.skid) == (made, "returned", house.skid)
    assert Entry.objects.latest("number").values["solution_id"] == made.pk


def usual(house: SkidCellar, clean: Clean) -> str:
    loaded = cleans_with_records().get(pk=clean.pk)
    item = progress_of(loaded).steps[0]
    return usual_solution(offered_solutions(loaded, item.step, now=NOW), item, loaded)


def test_the_only_solution_is_usual_else_that_of_the_vessels_last_tank(house: SkidCellar) -> None:
    vessel = make_vessel(name="FV 3")
    clean = caustic_clean(house, vessel=vessel)
    assert usual(house, clean) == FRESH
    first = house.made_up()
    assert usual(house, clean) == str(first.pk)
    second = house.made_up(house.made_tank("Caustic tank 2"))
    assert usual(house, clean) == str(first.pk)
    house.used(second, vessel=house.other_vessel)
    assert usual(house, clean) == str(first.pk)
    house.step_done(clean, 1, Draws(solution=second))
    house.stopped(clean)
    again = house.began(house.regime(("caustic", house.caustic, "")), turnaround=clean.turnaround)
    assert usual(house, again) == str(second.pk)


def test_solutions_are_offered_at_the_same_cost_however_many(
    house: SkidCellar, django_assert_num_queries: Any
) -> None:
    made = house.made_up()
    house.used(made)
    clean = cleans_with_records().get(pk=caustic_clean(house).pk)
    step = clean.version.steps.all()[0]
    with django_assert_num_queries(6):
        assert len(offered_solutions(clean, step, now=LATER)) == 1
    for number in (2, 3):
        house.used(house.made_up(house.made_tank(f"Caustic tank {number}")))
        house.used(made)
    with django_assert_num_queries(6):
        assert len(offered_solutions(clean, step, now=LATER)) == 3
    assert Solution.objects.count() == 3


def test_another_agent_of_the_same_kind_is_another_agent(house: SkidCellar) -> None:
    made = house.made_up(agent=make_agent(name="Other caustic"))
    clean = caustic_clean(house)
    assert refused(house, clean, Draws(solution=made)).code == "other_agent"

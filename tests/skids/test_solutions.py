"""Solutions made up, read, topped up and dumped; and what is refused."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.ledger.models import Entry
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.skids.models import GearRinse, Solution, SolutionCheck, SolutionTopUp
from brewhygiene.skids.solutions import actions
from brewhygiene.skids.solutions.actions import ReadStraight
from brewhygiene.skids.solutions.titration import TwoEndPoints
from tests.factories import NOW, acting, make_agent, make_peracetic
from tests.skids.scenes import SkidCellar
from tests.skids.test_gear import acid, chlorine

LATER = NOW + timedelta(hours=1)


def refused(act: Callable[[], Any], *, field: str | None, code: str) -> str:
    """What a refused action says; nothing is written."""
    before = Entry.objects.count(), Solution.objects.count(), SolutionCheck.objects.count()
    with pytest.raises(Refusal) as found:
        act()
    assert (found.value.field, found.value.code) == (field, code)
    now = Entry.objects.count(), Solution.objects.count(), SolutionCheck.objects.count()
    assert now == before
    return found.value.message


def test_a_make_up_is_kept_with_where_its_strength_is_from(house: SkidCellar) -> None:
    made = house.made_up(amount_kg=16, agent_lot=" C-7 ")
    assert (made.agent, made.agent_lot, made.amount_kg) == (house.caustic, "C-7", 16)
    assert (made.volume_l, made.strength, made.basis) == (400, 2, "ww")
    assert (made.source, made.made_at, made.made_by) == ("calculated", NOW, house.hand)
    entry = Entry.objects.latest("number")
    assert entry.verb == "make up solution"
    assert entry.values["tank"] == "Caustic tank 1"
    assert entry.values["strength"] == 2


@pytest.mark.parametrize(
    ("values", "field", "code"),
    [
        ({"agent_lot": " "}, "agent_lot", "no_lot"),
        ({"volume_l": 0}, "volume_l", "too_much"),
        ({"volume_l": 550.1}, "volume_l", "too_much"),
        ({"strength": 0}, "strength", "implausible"),
        ({"strength": 60.1}, "strength", "implausible"),
        ({"basis": "x"}, "basis", "refused"),
        ({"amount_kg": 0}, "amount_kg", "no_amount"),
        ({"amount_kg": 5000.1}, "amount_kg", "no_amount"),
        ({"source": ValueSource.STATED}, "source", "no_source"),
    ],
)
def test_a_make_up_that_cannot_be_is_refused(
    house: SkidCellar, values: dict[str, Any], field: str, code: str
) -> None:
    refused(lambda: house.made_up(**values), field=field, code=code)
    assert house.made_up(volume_l=550, strength=60).volume_l == 550


def test_a_tank_contains_one_solution(house: SkidCellar) -> None:
    first = house.made_up()
    said = refused(lambda: house.made_up(now=LATER), field=None, code="not_empty")
    assert said == "Caustic tank 1 still contains a solution. Record that it was dumped first."
    house.dumped(first, now=LATER)
    assert house.made_up(now=LATER).pk != first.pk


def test_the_owner_makes_nothing_up(house: SkidCellar) -> None:
    with pytest.raises(NotAllowed):
        actions.dump(by=acting(house.owner), solution=house.made_up(), reason="renewed")


def test_what_must_not_meet_the_last_agent_of_a_tank_waits_for_its_rinse(
    house: SkidCellar,
) -> None:
    hypo = house.made_up(agent=chlorine(), strength=200, basis="mg_l")
    house.dumped(hypo, now=NOW + timedelta(minutes=10))
    peracetic = make_peracetic()

    def make_up() -> Solution:
        return house.made_up(agent=peracetic, strength=200, basis="mg_l", now=LATER)

    said = refused(make_up, field="agent", code="agents_meet")
    assert said.startswith("Caustic tank 1 last contained Hypo (invented) and was not rinsed. ")
    house.rinsed(house.tank, now=NOW + timedelta(minutes=20))
    assert make_up().agent == peracetic


def test_a_caustic_in_between_does_not_clear_a_tank_of_chlorine(house: SkidCellar) -> None:
    house.dumped(house.made_up(agent=chlorine(), strength=200, basis="mg_l"))
    house.dumped(house.made_up(now=LATER), now=LATER)
    refused(lambda: house.made_up(agent=acid(), now=LATER), field="agent", code="agents_meet")


def test_a_full_tank_is_not_rinsed(house: SkidCellar) -> None:
    house.made_up()
    refused(lambda: house.rinsed(house.tank), field=None, code="not_empty")
    assert not GearRinse.objects.exists()


def test_a_tank_of_the_wrong_material_is_refused(house: SkidCellar) -> None:
    tank = house.made_tank("Copper tank", material="copper")
    said = refused(
        lambda: house.made_up(tank, acid(), strength=1.5), field="agent", code="unfit_material"
    )
    assert said.startswith("Copper tank is copper, which Nitric (invented) harms: ")


def test_a_titration_to_two_end_points_gives_free_caustic_and_carbonate(
    house: SkidCellar,
) -> None:
    """P = 10 and T = 11.5 mL of 0.5 eq/L on 10 mL: 17.0 g/L NaOH, 7.95 g/L Na2CO3 (doctest)."""
    check = actions.check_solution(
        by=acting(house.hand, now=LATER),
        solution=house.made_up(),
        strength=TwoEndPoints(first_ml=10, second_ml=11.5, titrant_eq_l=0.5, sample_ml=10),
    )
    assert check.strength == pytest.approx(1.70, abs=0.005)
    assert check.carbonate_wv == pytest.approx(0.795, abs=0.0005)
    # 2 (T − P) of T.
    assert check.carbonate_percent == pytest.approx(100 * 3 / 11.5)
    assert (check.basis, check.source, check.taken_at) == ("wv", "read", LATER)
    assert check.titration == {
        "method": "titration",
        "first_ml": 10,
        "second_ml": 11.5,
        "titrant_eq_l": 0.5,
        "sample_ml": 10,
    }


def test_one_end_point_says_nothing_of_carbonate(house: SkidCellar) -> None:
    check = actions.check_solution(
        by=acting(house.hand),
        solution=house.made_up(),
        strength=TwoEndPoints(first_ml=10.2, titrant_eq_l=0.5, sample_ml=10),
    )
    assert check.strength == pytest.approx(2.04, abs=0.001)
    assert (check.carbonate_wv, check.carbonate_percent) == (None, None)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"first_ml": -1}, "first_ml"),
        ({"first_ml": 50.1}, "first_ml"),
        ({"second_ml": 50.1}, "second_ml"),
        ({"second_ml": 9.9}, "second_ml"),
        ({"titrant_eq_l": 0}, "titrant_eq_l"),
        ({"sample_ml": 0}, "sample_ml"),
    ],
)
def test_a_titration_that_cannot_be_is_refused_beside_its_field(
    house: SkidCellar, given: dict[str, float], field: str
) -> None:
    values = {"first_ml": 10.0, "second_ml": 11.5, "titrant_eq_l": 0.5, "sample_ml": 10.0, **given}
    made = house.made_up()
    with pytest.raises(Refusal) as found:
        actions.check_solution(
            by=acting(house.hand), solution=made, strength=TwoEndPoints(**values)
        )
    assert found.value.field == field
    assert not SolutionCheck.objects.exists()


def test_an_agent_without_equivalent_weight_is_not_titrated(house: SkidCellar) -> None:
    blend = make_agent(name="Blend", kind="acid", active_substance="HNO3+H3PO4")
    made = house.made_up(agent=blend, strength=1)
    given = TwoEndPoints(first_ml=10, titrant_eq_l=0.5, sample_ml=10)
    refused(
        lambda: actions.check_solution(by=acting(house.hand), solution=made, strength=given),
        field="first_ml",
        code="no_equivalent",
    )


def test_a_reading_says_at_least_one_thing(house: SkidCellar) -> None:
    made = house.made_up()
    by = acting(house.hand)
    refused(lambda: actions.check_solution(by=by, solution=made), field=None, code="nothing")
    refused(
        lambda: actions.check_solution(by=by, solution=made, temperature_c=150.1),
        field="temperature_c",
        code="implausible",
    )
    refused(
        lambda: actions.check_solution(by=by, solution=made, strength=ReadStraight(-0.1, "ww")),
        field="strength",
        code="implausible",
    )
    spent = actions.check_solution(by=by, solution=made, strength=ReadStraight(0, "ww"))
    assert spent.strength == 0
    assert actions.check_solution(by=by, solution=made, soiled=False).soiled is False
    assert actions.check_solution(by=by, solution=made, temperature_c=72).temperature_c == 72


def test_a_top_up_has_an_amount_and_its_lot(house: SkidCellar) -> None:
    made, by = house.made_up(), acting(house.hand)

    def top_up(**values: Any) -> SolutionTopUp:
        return actions.top_up(by=by, solution=made, **values)

    refused(lambda: top_up(), field="amount_kg", code="no_amount")
    refused(lambda: top_up(amount_kg=2), field="agent_lot", code="no_lot")
    refused(lambda: top_up(amount_kg=0, agent_lot="C"), field="amount_kg", code="no_amount")
    refused(lambda: top_up(water_l=0), field="water_l", code="too_much")
    refused(lambda: top_up(water_l=550.1), field="water_l", code="too_much")
    added = top_up(amount_kg=2, agent_lot="C-2", water_l=40)
    assert (added.amount_kg, added.agent_lot, added.water_l) == (2, "C-2", 40)
    assert top_up(water_l=40).agent_lot == ""


def test_a_dump_has_a_reason_and_happens_once(house: SkidCellar) -> None:
    made, by = house.made_up(), acting(house.hand, now=LATER)
    refused(
        lambda: actions.dump(by=by, solution=made, reason="x"), field="reason", code="no_reason"
    )
    refused(
        lambda: actions.dump(by=by, solution=made, reason="other"), field="note", code="no_reason"
    )
    dumped = actions.dump(by=by, solution=made, reason="other", note="Leaking valve")
    assert (dumped.dumped_at, dumped.dumped_by) == (LATER, house.hand)
    assert (dumped.dump_reason, dumped.dump_note) == ("other", "Leaking valve")
    for act in (
        lambda: actions.dump(by=by, solution=made, reason="rule"),
        lambda: actions.top_up(by=by, solution=made, water_l=5),
        lambda: actions.check_solution(by=by, solution=made, soiled=True),
    ):
        said = refused(act, field=None, code="dumped")
        assert said == "Jonas Feld has dumped this solution. Open the tank again."


@pytest.mark.parametrize(
    ("quantity", "value", "supply", "field"),
    [
        ("ph", 6.6, 7.2, "value"),
        ("ph", 14.1, 7.2, "value"),
        ("ph", 7.2, -0.1, "supply_value"),
        ("conductivity_ms_cm", 0.56, 0.5, "value"),
        ("conductivity_ms_cm", 0.3, 0.5, "supply_value"),
        ("temperature_c", 20, 20, "quantity"),
    ],
)
def test_a_rinse_is_proved_beside_the_supply(
    house: SkidCellar, quantity: str, value: float, supply: float, field: str
) -> None:
    def rinse(value: float) -> GearRinse:
        return actions.record_rinse(
            by=acting(house.hand),
            gear=house.skid,
            quantity=quantity,
            value=value,
            supply_value=supply,
        )

    with pytest.raises(Refusal) as found:
        rinse(value)
    assert found.value.field == field
    if field == "value":
        assert rinse(supply).skid == house.skid

"""What a clean cost that drew from a tank: its share of what the solution was made of."""

from datetime import timedelta
from typing import Any

import pytest

from brewhygiene.skids.models import Solution
from brewhygiene.skids.solutions import actions as solution_actions
from brewhygiene.turnarounds.cost.report import CostReport, cost_of
from brewhygiene.turnarounds.cost.steps import shares_of
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.progress import progress_of
from brewhygiene.turnarounds.queries import cleans_with_records
from tests.factories import NOW, acting
from tests.skids.scenes import SkidCellar

LATER = NOW + timedelta(days=1)


def report(house: SkidCellar, clean: Clean) -> CostReport:
    loaded = cleans_with_records().get(pk=clean.pk)
    shares = shares_of([loaded], now=LATER, brewery=house.brewery)
    return cost_of(progress_of(loaded), brewery=house.brewery, shares=shares)


def rows(found: CostReport) -> dict[str, tuple[str, str]]:
    (step,) = found.steps
    return {row.label: (row.amount, row.source) for row in step.rows}


@pytest.fixture
def shared(house: SkidCellar) -> tuple[SkidCellar, Solution, Clean]:
    """400 L of water and 16 kg, topped up with 100 L and 4 kg, for four steps."""
    for vessel in (house.vessel, house.other_vessel):
        vessel.solution_l = 250
        vessel.save()
    house.brewery.water_price_hl = 0.5
    house.brewery.save()
    made = house.made_up(amount_kg=16)
    solution_actions.top_up(
        by=acting(house.hand), solution=made, amount_kg=4, agent_lot="C-2", water_l=100
    )
    clean = house.used(made, vessel=house.vessel).clean
    for _ in range(3):
        house.used(made)
    return house, made, clean


def test_a_use_costs_its_share_of_make_up_and_top_ups(
    shared: tuple[SkidCellar, Solution, Clean],
) -> None:
    """5 hL and 20 kg over four uses: 1.25 hL and 5 kg, 0.63 and 4.00 of money."""
    house, made, clean = shared
    found = report(house, clean)
    assert rows(found)["water"][0] == "1.25 hL"
    assert rows(found)["Caustic liquor (invented)"][0] == "5 kg"
    assert found.money == pytest.approx(1.25 * 0.5 + 5 * 0.8)
    assert found.steps[0].note == (
        "Drawn from Caustic tank 1: 500 L and 20 kg of Caustic liquor (invented), shared over "
        "4 uses so far. At least this, while it is in use."
    )
    house.dumped(made, now=LATER)
    assert report(house, clean).steps[0].note.endswith("shared over 4 uses.")


def test_a_solution_of_unknown_amounts_is_counted_as_before(house: SkidCellar) -> None:
    house.vessel.solution_l = 250
    house.vessel.save()
    clean = house.used(house.made_up(), vessel=house.vessel).clean
    assert report(house, clean).steps[0].note == ""
    assert rows(report(house, clean))["water"][0] == "2.5 hL"


def test_shares_cost_the_same_however_many(
    shared: tuple[SkidCellar, Solution, Clean], django_assert_num_queries: Any
) -> None:
    house, _, clean = shared
    loaded = [cleans_with_records().get(pk=clean.pk)]
    with django_assert_num_queries(7):
        shares_of(loaded, now=LATER, brewery=house.brewery)
    tank = house.made_tank("Caustic tank 2")
    other = house.used(house.made_up(tank, amount_kg=9)).clean
    loaded = [cleans_with_records().get(pk=one.pk) for one in (clean, other)]
    with django_assert_num_queries(7):
        assert len(shares_of(loaded, now=LATER, brewery=house.brewery)) == 2


def test_what_draws_from_no_tank_takes_no_query(
    house: SkidCellar, django_assert_num_queries: Any
) -> None:
    clean = house.began(house.regime(("pre_rinse", None, "")))
    house.step_done(clean, 1)
    loaded = cleans_with_records().get(pk=clean.pk)
    list(loaded.step_records.all())
    with django_assert_num_queries(0):
        assert shares_of([loaded], now=LATER, brewery=house.brewery) == {}

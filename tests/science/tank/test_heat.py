"""Heat for solution and steel."""

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.tank.heat import (
    heating,
    mean_heat_capacity_kj_kg_k,
    temperature_on_steel_c,
)
from brewhygiene.science.tank.water import heat_capacity_kj_kg_k


def test_mean_heat_capacity_is_its_integral() -> None:
    def capacity(celsius: float) -> float:
        return heat_capacity_kj_kg_k(temperature_c=celsius, solute="NaOH", strength_ww=2)

    integral, _ = quad(capacity, 10, 85)
    ours = mean_heat_capacity_kj_kg_k(from_c=10, to_c=85, solute="NaOH", strength_ww=2)
    assert ours == pytest.approx(integral / 75, rel=1e-5)


def test_water_takes_the_heat_of_a_second_library() -> None:
    warm = heating(solution_kg=1000, from_c=10, to_c=80)
    low, high = (PropsSI("H", "T", t + 273.15, "P", 101325, "Water") for t in (10, 80))
    assert warm.energy_kwh == pytest.approx((high - low) / 3600, rel=1e-4)


@given(middle=st.floats(15, 80), steel=st.floats(0, 2000))
def test_two_stages_take_what_one_takes(middle: float, steel: float) -> None:
    def kwh(start: float, end: float) -> float:
        return heating(
            solution_kg=500, from_c=start, to_c=end, solute="NaOH", strength_ww=2, steel_kg=steel
        ).energy_kwh

    assert kwh(15, middle) + kwh(middle, 80) == pytest.approx(kwh(15, 80), rel=1e-4)


def test_steel_and_heater_are_counted() -> None:
    warm = heating(
        solution_kg=0, from_c=20, to_c=80, steel_kg=720, steel_from_c=10, heater_kw=14,
        efficiency=0.5,
    )  # fmt: skip
    assert warm.energy_kwh == pytest.approx(720 * 0.5 * 70 / 3600)
    assert warm.bought_kwh == pytest.approx(14)
    assert warm.minutes == pytest.approx(60)
    assert heating(solution_kg=1, from_c=20, to_c=80).minutes is None


@given(solution=st.floats(10, 5000), steel=st.floats(0, 5000), cold=st.floats(0, 60))
def test_solution_on_steel_ends_between_the_two(solution: float, steel: float, cold: float) -> None:
    found = temperature_on_steel_c(
        solution_kg=solution, solution_c=75, steel_kg=steel, steel_c=cold
    )
    assert cold <= found <= 75 + 1e-9


@pytest.mark.parametrize(
    "change, says",
    [
        ({"to_c": 10}, "colder than the start"),
        ({"to_c": 120}, "It must be from 0 to 99 °C"),
        ({"solution_kg": -1}, "It must be at least 0 kg"),
        ({"efficiency": 0}, "It must be above 0 and at most 1"),
        ({"solute": "H3PO4", "strength_ww": 1}, "no heat capacity of H3PO4"),
        ({"solute": "HNO3", "strength_ww": 10}, "It must be from 0 to 6.54 % w/w"),
        ({"steel_from_c": 90}, "It must be from -30 to 75 °C"),
        ({"heater_kw": 0}, "It must be above 0 kW"),
    ],
)
def test_heating_outside_its_range_is_refused(change: dict[str, object], says: str) -> None:
    asked = {"solution_kg": 100, "from_c": 15, "to_c": 75} | change
    with pytest.raises(OutOfRange, match=says):
        heating(**asked)

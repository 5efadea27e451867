"""Flow in lines and over walls."""

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.tank.flow import (
    Section,
    circuit_flow,
    flow_for_velocity_l_min,
    flow_kind,
    friction_factor,
    line_flow,
    velocity_m_s,
)
from brewhygiene.science.tank.wall import falling_film, film_reynolds, spray_need
from brewhygiene.science.tank.water import fluid, water_density_kg_m3, water_viscosity_mpa_s

WATER = fluid(temperature_c=20)


@given(reynolds=st.floats(4000, 1e7), roughness=st.floats(0, 0.05))
def test_friction_solves_colebrook_and_white(reynolds: float, roughness: float) -> None:
    def rest(x: float) -> float:
        return x + 2 * math.log10(roughness / 3.7 + 2.51 / reynolds * x)

    other = brentq(rest, 0.1, 100, xtol=1e-13)
    ours = friction_factor(reynolds=reynolds, relative_roughness=roughness)
    # The library writes 3.7 and 2.51 with the digits of its solver: 1e-6 of each other.
    assert ours == pytest.approx(1 / other**2, rel=1e-6)


@given(reynolds=st.floats(2000.1, 3999.9))
def test_friction_between_laminar_and_turbulent_is_refused(reynolds: float) -> None:
    assert flow_kind(reynolds=reynolds) == "undefined"
    with pytest.raises(OutOfRange, match="no friction factor from 2000 to 4000"):
        friction_factor(reynolds=reynolds)


def test_line_in_between_has_no_pressure_drop() -> None:
    line = line_flow(bore_mm=50, length_m=10, flow_l_min=7, fluid=WATER)
    assert (line.kind, line.friction_factor, line.pressure_drop_kpa) == ("undefined", None, None)


def test_laminar_line_is_that_of_hagen_and_poiseuille() -> None:
    line = line_flow(bore_mm=20, length_m=10, flow_l_min=1, fluid=WATER)
    flow_m3_s, radius_m = 1 / 60_000, 0.01
    pascal = 8 * WATER.viscosity_mpa_s / 1000 * 10 * flow_m3_s / (math.pi * radius_m**4)
    assert line.pressure_drop_kpa == pytest.approx(pascal / 1000)


@given(flow=st.floats(50, 2000), more=st.floats(1.01, 3), bore=st.floats(20, 150))
def test_more_flow_is_faster_and_costs_more_pressure(flow: float, more: float, bore: float) -> None:
    slow, fast = (
        line_flow(bore_mm=bore, length_m=20, flow_l_min=each, fluid=WATER)
        for each in (flow, flow * more)
    )
    assert fast.velocity_m_s > slow.velocity_m_s
    assert fast.residence_s < slow.residence_s
    if slow.pressure_drop_kpa and fast.pressure_drop_kpa:
        assert fast.pressure_drop_kpa > slow.pressure_drop_kpa
        assert slow.pressure_drop_kpa >= slow.smooth_pressure_drop_kpa


@given(velocity=st.floats(0.1, 5), bore=st.floats(10, 200))
def test_flow_and_velocity_are_each_others_inverse(velocity: float, bore: float) -> None:
    flow = flow_for_velocity_l_min(bore_mm=bore, velocity_m_s=velocity)
    assert velocity_m_s(flow_l_min=flow, bore_mm=bore) == pytest.approx(velocity)


def test_velocity_takes_arrays() -> None:
    found = velocity_m_s(flow_l_min=np.array([100.0, 200.0]), bore_mm=np.array([50.0, 50.0]))
    assert found.tolist() == pytest.approx([0.848826, 1.697653], rel=1e-6)


def test_circuit_is_judged_in_its_widest_bore() -> None:
    sections = [Section(50, 20), Section(65, 5), Section(38, 2)]
    needed = flow_for_velocity_l_min(bore_mm=65.0)
    enough = circuit_flow(sections=sections, flow_l_min=needed, fluid=WATER)
    short = circuit_flow(sections=sections, flow_l_min=needed - 1, fluid=WATER)
    assert (enough.enough, short.enough) == (True, False)
    assert enough.widest_bore_mm == 65
    assert short.sentence == (
        "Too slow: 1.49 m/s in the widest bore (65 mm). 1.5 m/s takes 299 L/min."
    )
    assert enough.residence_s == pytest.approx(60 * enough.volume_l / needed)


def test_circuit_without_a_line_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one length of line"):
        circuit_flow(sections=[], flow_l_min=100, fluid=WATER)


@pytest.mark.parametrize(
    "bore, length, flow", [(0, 1, 1), (501, 1, 1), (50, 0, 1), (50, 1, 0), (50, 1, -5)]
)
def test_line_outside_its_range_is_refused(bore: float, length: float, flow: float) -> None:
    with pytest.raises(OutOfRange):
        line_flow(bore_mm=bore, length_m=length, flow_l_min=flow, fluid=WATER)


@pytest.mark.parametrize("celsius", [5, 20, 45, 70, 95])
def test_water_is_that_of_a_second_library(celsius: float) -> None:
    kelvin = celsius + 273.15
    density = PropsSI("D", "T", kelvin, "P", 101325, "Water")
    viscosity = PropsSI("V", "T", kelvin, "P", 101325, "Water") * 1000
    assert water_density_kg_m3(temperature_c=celsius) == pytest.approx(density, rel=1e-5)
    assert water_viscosity_mpa_s(temperature_c=celsius) == pytest.approx(viscosity, rel=1e-3)


def test_solution_outside_the_table_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"is 6 % w/w. It must be from 0 to 5 % w/w\."):
        fluid(temperature_c=20, solute="NaOH", strength_ww=6)
    with pytest.raises(OutOfRange, match="no viscosity table of PAA"):
        fluid(temperature_c=20, solute="PAA", strength_ww=1)
    with pytest.raises(OutOfRange, match=r"120 °C. It must be from 0 to 99 °C"):
        fluid(temperature_c=120)


# --- walls ---


def test_rotary_head_has_no_rule() -> None:
    with pytest.raises(OutOfRange, match="See its maker's curve for flow and pressure"):
        spray_need(diameter_m=2, kind="rotary")


@pytest.mark.parametrize("flow, verdict", [(100, "short"), (157.1, "enough"), (300, "above")])
def test_spray_is_held_against_the_rule(flow: float, verdict: str) -> None:
    assert spray_need(diameter_m=2, flow_l_min=flow).verdict == verdict


def test_spray_without_a_flow_has_no_verdict() -> None:
    need = spray_need(diameter_m=2)
    assert (need.verdict, need.wetting_l_min_m) == ("", None)
    assert need.sentence == "A static spray device here needs 157 to 232 L/min."


@given(flow=st.floats(1, 60), diameter=st.floats(0.5, 5))
def test_film_carries_the_flow(flow: float, diameter: float) -> None:
    film = falling_film(flow_l_min=flow, diameter_m=diameter, fluid=WATER)
    if film.laminar:
        carried = film.velocity_m_s * film.thickness_mm / 1000 * math.pi * diameter * 60_000
        assert carried == pytest.approx(flow)
    # 4 Γ / μ is the Reynolds number on the hydraulic diameter, four times the thickness.
    around = math.pi * diameter
    assert film.reynolds == film_reynolds(flow_l_min=flow, width_m=around, fluid=WATER)


def test_film_above_laminar_has_no_thickness() -> None:
    film = falling_film(flow_l_min=200, diameter_m=2, fluid=fluid(temperature_c=70))
    assert (film.laminar, film.thickness_mm, film.velocity_m_s) == (False, None, None)

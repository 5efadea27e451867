"""Pipes, spray devices and water as a fluid against published values and worked examples.

Provenance of a number: read (seen in the source named or a copy of it), memory (recalled),
computed (worked out from numbers that were read).
"""

from collections.abc import Callable

import pytest

from brewhygiene.science.tank.flow import (
    LEAST_VELOCITY_M_S,
    bore_area_m2,
    flow_for_velocity_l_min,
    friction_factor,
    line_flow,
    pipe_reynolds,
)
from brewhygiene.science.tank.wall import spray_need
from brewhygiene.science.tank.water import (
    fluid,
    viscosity_ratio,
    water_density_kg_m3,
    water_viscosity_mpa_s,
)

Published = Callable[..., None]

COLEBROOK = "Colebrook 1939, by two solvers (computed; 0.0185138660774716 in fluids' manual, read)"
DARCY = "Darcy, Weisbach and Colebrook, 50 m of 50 mm bore (computed with fluids and by hand)"
CONTINUITY = "continuity, 50 mm bore (computed)"
SEIBERLING = "Seiberling 2008, p. 162: 2 US gal/min per foot of circumference (read)"
R12_08 = "IAPWS R12-08(2008), viscosity (computed with two libraries)"
IAPWS_95 = "IAPWS R6-95(2018), density (computed with two libraries)"
CRC = "CRC Handbook, 102nd ed. (2021), viscosity at 20 °C (read)"


@pytest.mark.parametrize(
    "reynolds, roughness, factor",
    [(1e5, 1e-4, 0.0185138660774716), (74746, 3e-5, 0.01926848679), (1000, 0.0, 0.064)],
)
def test_friction_factor(
    published: Published, reynolds: float, roughness: float, factor: float
) -> None:
    ours = friction_factor(reynolds=reynolds, relative_roughness=roughness)
    published(f"Darcy's factor, Re {reynolds:g}, ε/D {roughness:g}", ours, factor, COLEBROOK, 1e-9)


@pytest.mark.parametrize(
    "celsius, factor, pascal", [(20, 0.0192685, 21638.2), (70, 0.016164, 17780.2)]
)
def test_pressure_drop(published: Published, celsius: float, factor: float, pascal: float) -> None:
    water = fluid(temperature_c=celsius)
    flow = flow_for_velocity_l_min(bore_mm=50.0, velocity_m_s=1.5)
    line = line_flow(bore_mm=50, length_m=50, flow_l_min=flow, fluid=water, roughness_mm=0.0015)
    published(f"friction factor at {celsius} °C", line.friction_factor, factor, DARCY, 2e-6)
    published(f"pressure drop at {celsius} °C, Pa", line.pressure_drop_kpa * 1000, pascal, DARCY,
              pascal * 1e-4)  # fmt: skip


def test_line_of_fifty_millimetres(published: Published) -> None:
    flow = flow_for_velocity_l_min(bore_mm=50.0)
    line = line_flow(bore_mm=50, length_m=50, flow_l_min=flow, fluid=fluid(temperature_c=20))
    published("cross-section, m²", bore_area_m2(bore_mm=50.0), 0.0019635, CONTINUITY, 5e-8)
    published("flow for 1.5 m/s, L/min", flow, 176.715, CONTINUITY, 5e-4)
    published("volume of 50 m, L", line.volume_l, 98.1748, CONTINUITY, 5e-5)
    published("transit of 50 m, s", line.residence_s, 33.3333, CONTINUITY, 5e-5)


def test_bore_counts_not_the_nominal_size(published: Published) -> None:
    """2 inch hygienic tube, 50.8 mm outside, has a bore of 47.5 mm."""
    flow_m3_h = flow_for_velocity_l_min(bore_mm=47.5) * 60 / 1000
    published("flow for 1.5 m/s in 47.5 mm, m³/h", flow_m3_h, 9.57,
              "continuity; bore from memory", 0.005)  # fmt: skip


def test_reynolds_number_of_hot_water(published: Published) -> None:
    ours = pipe_reynolds(velocity_m_s=1.5, bore_mm=50.0, fluid=fluid(temperature_c=70))
    source = "ρ v D / μ with IAPWS water (computed; a web page has it ten times too low)"
    published("Re at 1.5 m/s, 50 mm, 70 °C", ours, 182_000, source, 500)


def test_least_velocity(published: Published) -> None:
    source = "3-A accepted practice, 5 ft/s (from memory; quoted by others, read)"
    published("least velocity in a line, m/s", LEAST_VELOCITY_M_S, 5 * 0.3048, source, 0.03)


def test_spray_device(published: Published) -> None:
    need = spray_need(diameter_m=2.0)
    per_metre = need.least_l_min / need.circumference_m
    gallons = 2 * 3.785411784 / 0.3048
    published("least flow of a static device, L/min per m", per_metre, gallons, SEIBERLING, 0.2)
    most = need.most_l_min / need.circumference_m
    published("most flow of a static device, L/min per m", most, 3 * 3.785411784 / 0.3048,
              "3 US gal/min per foot (from memory)", 0.3)  # fmt: skip


@pytest.mark.parametrize(
    "celsius, kg_m3, mpa_s",
    [(10, 999.702, 1.3059), (20, 998.207, 1.0016), (50, 988.035, 0.54652), (80, 971.79, 0.35405)],
)
def test_water_as_a_fluid(published: Published, celsius: float, kg_m3: float, mpa_s: float) -> None:
    density = water_density_kg_m3(temperature_c=celsius)
    viscosity = water_viscosity_mpa_s(temperature_c=celsius)
    published(f"density of water at {celsius} °C, kg/m³", density, kg_m3, IAPWS_95, 0.02)
    published(f"viscosity of water at {celsius} °C, mPa s", viscosity, mpa_s, R12_08, 0.001)


@pytest.mark.parametrize(
    "solute, ww, mpa_s", [("NaOH", 2, 1.112), ("NaOH", 5, 1.329), ("HNO3", 2, 1.007)]
)
def test_viscosity_of_a_solution(
    published: Published, solute: str, ww: float, mpa_s: float
) -> None:
    ours = fluid(temperature_c=20, solute=solute, strength_ww=ww).viscosity_mpa_s
    published(f"viscosity of {ww} % {solute}, mPa s", ours, mpa_s, CRC, 0.001)
    assert viscosity_ratio(solute=solute, strength_ww=ww) == pytest.approx(mpa_s / 1.002)

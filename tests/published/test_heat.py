"""Heat to warm a cleaning solution against published heat capacities.

Provenance of a number: read (seen in the source named or a copy of it), memory (recalled),
computed (worked out from numbers that were read).
"""

from collections.abc import Callable

import pytest

from brewhygiene.science.tank.heat import heating
from brewhygiene.science.tank.water import heat_capacity_kj_kg_k

Published = Callable[..., None]

LALIBERTE = "Laliberté 2009, heat capacity of 2 % NaOH (computed with thermo 0.6.1)"
IAPWS_95 = "IAPWS R6-95(2018), heat capacity (computed with two libraries)"


def test_warming_a_thousand_litres(published: Published) -> None:
    warm = heating(solution_kg=1021.98, from_c=15, to_c=75, solute="NaOH", strength_ww=2)
    source = "Laliberté 2009 with Perry's density at 15 °C (density read, rest computed)"
    published("1000 L of 2 % NaOH from 15 to 75 °C, kWh", warm.energy_kwh, 69.5504, source, 0.005)


def test_warming_it_as_water_by_volume(published: Published) -> None:
    """Its lower heat capacity and its higher density nearly cancel."""
    warm = heating(solution_kg=1021.98, from_c=15, to_c=75, solute="NaOH", strength_ww=2)
    published("the same as 1000 kg of water at 4.182 kJ/(kg K), kWh", warm.energy_kwh, 69.7041,
              "m c ΔT (computed)", 0.25)  # fmt: skip


@pytest.mark.parametrize("celsius, j_kg_k", [(15, 4063.64), (45, 4082.96), (75, 4104.62)])
def test_heat_capacity_of_caustic(published: Published, celsius: float, j_kg_k: float) -> None:
    ours = heat_capacity_kj_kg_k(temperature_c=celsius, solute="NaOH", strength_ww=2) * 1000
    published(f"heat capacity at {celsius} °C, J/(kg K)", ours, j_kg_k, LALIBERTE, 0.005)


@pytest.mark.parametrize("celsius, kj_kg_k", [(10, 4.19516), (40, 4.17941), (90, 4.20521)])
def test_heat_capacity_of_water(published: Published, celsius: float, kj_kg_k: float) -> None:
    ours = heat_capacity_kj_kg_k(temperature_c=celsius)
    published(f"heat capacity of water at {celsius} °C, kJ/(kg K)", ours, kj_kg_k, IAPWS_95, 2e-5)

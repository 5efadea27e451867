"""Density: another method, what has to hold everywhere, and refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.solutions.density import (
    SOLUTES,
    OutOfRange,
    solution_density_kg_l,
    water_density_kg_l,
)

CAS = {
    "NaOH": "1310-73-2",
    "KOH": "1310-58-3",
    "HNO3": "7697-37-2",
    "H3PO4": "7664-38-2",
    "Na2CO3": "497-19-8",
}


@pytest.mark.parametrize("temperature_c", [0.1, 20, 40, 60, 80, 95])
def test_water_density_agrees_with_iapws_95(temperature_c: float) -> None:
    from CoolProp.CoolProp import PropsSI

    reference_kg_l = PropsSI("D", "T", temperature_c + 273.15, "P", 101325, "Water") / 1000
    ours = water_density_kg_l(temperature_c=temperature_c)
    assert ours == pytest.approx(reference_kg_l, rel=2e-5)


@pytest.mark.parametrize("solute", ["KOH", "HNO3", "H3PO4", "Na2CO3"])
@pytest.mark.parametrize("strength_ww, temperature_c", [(0.5, 20), (5, 60), (20, 80)])
def test_model_agrees_with_the_library_and_its_own_coefficients(
    solute: str, strength_ww: float, temperature_c: float
) -> None:
    from thermo.electrochem import Laliberte_density

    library = Laliberte_density(temperature_c + 273.15, [strength_ww / 100], [CAS[solute]])
    ours = solution_density_kg_l(
        solute=solute, strength_ww=strength_ww, temperature_c=temperature_c
    )
    assert ours == pytest.approx(library / 1000, rel=1e-12)


def test_caustic_stays_near_the_model_where_the_model_is_good() -> None:
    from thermo.electrochem import Laliberte_density

    library = Laliberte_density(293.15, [0.04], [CAS["NaOH"]]) / 1000
    ours = solution_density_kg_l(solute="NaOH", strength_ww=4, temperature_c=20)
    assert ours == pytest.approx(library, rel=0.0025)
    assert ours != library


@pytest.mark.parametrize("solute", SOLUTES)
def test_density_without_solute_is_that_of_water(solute: str) -> None:
    ours = solution_density_kg_l(solute=solute, strength_ww=0, temperature_c=20)
    assert ours == pytest.approx(water_density_kg_l(temperature_c=20), rel=1e-12)


@given(solute=st.sampled_from(sorted(SOLUTES)), share=st.floats(0, 0.99), along=st.floats(0, 1))
def test_density_rises_with_strength(solute: str, share: float, along: float) -> None:
    known = SOLUTES[solute]
    temperature_c = known.temperature_min_c + along * (
        known.temperature_max_c - known.temperature_min_c
    )
    weaker, stronger = (
        solution_density_kg_l(
            solute=solute, strength_ww=known.strength_max_ww * at, temperature_c=temperature_c
        )
        for at in (share, share + 0.01)
    )
    assert stronger > weaker


@given(
    solute=st.sampled_from(sorted(SOLUTES)),
    strength_ww=st.floats(0, 20),
    temperature_c=st.floats(16, 80),
)
def test_density_falls_with_temperature(
    solute: str, strength_ww: float, temperature_c: float
) -> None:
    cooler, warmer = (
        solution_density_kg_l(solute=solute, strength_ww=strength_ww, temperature_c=at)
        for at in (temperature_c, temperature_c + 1)
    )
    assert warmer < cooler


def test_density_of_arrays_is_that_of_each_point() -> None:
    strengths = np.array([0.0, 2.0, 33.0, 50.0])
    temperatures = np.array([[10.0], [70.0]])
    found = solution_density_kg_l(solute="NaOH", strength_ww=strengths, temperature_c=temperatures)
    assert found.shape == (2, 4)
    assert found.tolist() == [
        [
            solution_density_kg_l(solute="NaOH", strength_ww=ww, temperature_c=at)
            for ww in strengths.tolist()
        ]
        for at in (10.0, 70.0)
    ]


def test_density_of_numbers_is_a_float() -> None:
    assert type(solution_density_kg_l(solute="HNO3", strength_ww=1, temperature_c=20)) is float


@pytest.mark.parametrize(
    "solute, strength_ww, temperature_c, message",
    [
        ("NaOH", 50.1, 20, "The strength of NaOH is 50.1 % w/w. It must be from 0 to 50 % w/w."),
        ("NaOH", -0.1, 20, "The strength of NaOH is -0.1 % w/w. It must be from 0 to 50 % w/w."),
        ("KOH", 2, 96, "The temperature of KOH is 96 °C. It must be from 4 to 95 °C."),
        ("H3PO4", 2, 15, "The temperature of H3PO4 is 15 °C. It must be from 16 to 81 °C."),
        ("HNO3", float("nan"), 20, None),
        ("HNO3", 1, float("inf"), None),
    ],
)
def test_density_is_refused_outside_its_range(
    solute: str, strength_ww: float, temperature_c: float, message: str | None
) -> None:
    with pytest.raises(OutOfRange) as refused:
        solution_density_kg_l(solute=solute, strength_ww=strength_ww, temperature_c=temperature_c)
    assert message in (None, str(refused.value))


def test_one_point_outside_refuses_the_array() -> None:
    with pytest.raises(OutOfRange, match="60 % w/w"):
        solution_density_kg_l(solute="NaOH", strength_ww=np.array([1.0, 60.0]), temperature_c=20.0)


def test_density_of_an_unknown_solute_is_refused() -> None:
    with pytest.raises(KeyError, match="no density table of HCl"):
        solution_density_kg_l(solute="HCl", strength_ww=1, temperature_c=20)

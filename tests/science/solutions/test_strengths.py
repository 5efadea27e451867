"""Strengths on every basis: molar masses by another library, round trips, refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.solutions.density import SOLUTES, OutOfRange
from brewhygiene.science.solutions.strength import (
    EQUIVALENT_WEIGHT_G,
    NotConvertible,
    convert_strength,
    titrated_strength_wv,
    wv_from_ww,
    ww_from_wv,
)
from brewhygiene.science.solutions.strengths import (
    BASIS_UNIT,
    EQUIVALENTS,
    caustic_lost_to_water_kg,
    molar_mass_g_mol,
    solution_strengths,
)

FORMULAS = ["NaOH", "KOH", "HNO3", "H3PO4", "Na2CO3", "NaHCO3", "K2CO3", "NaClO", "CaCO3"]


@pytest.mark.parametrize("formula", FORMULAS)
def test_molar_mass_agrees_with_another_library(formula: str) -> None:
    from molmass import Formula

    assert molar_mass_g_mol(formula) == pytest.approx(Formula(formula).mass, abs=0.001)


@pytest.mark.parametrize(
    "substance, formula, equivalents",
    [
        ("NaOH", "NaOH", 1),
        ("KOH", "KOH", 1),
        ("HNO3", "HNO3", 1),
        ("H3PO4", "H3PO4", 1),
        ("PAA", "C2H4O3", 2),
        ("H2O2", "H2O2", 2),
        ("chlorine", "Cl2", 2),
        ("iodine", "I2", 2),
    ],
)
def test_equivalent_weight_is_the_molar_mass_shared_out(
    substance: str, formula: str, equivalents: int
) -> None:
    from molmass import Formula

    published = Formula(formula).mass / equivalents
    assert EQUIVALENT_WEIGHT_G[substance] == pytest.approx(published, abs=0.001)
    assert EQUIVALENT_WEIGHT_G[substance] == pytest.approx(
        molar_mass_g_mol(formula) / equivalents, abs=0.001
    )


@given(
    solute=st.sampled_from(sorted(SOLUTES)),
    share=st.floats(0, 1),
    temperature_c=st.floats(16, 80),
    basis=st.sampled_from(sorted(BASIS_UNIT)),
)
def test_every_basis_returns_the_strength_it_came_from(
    solute: str, share: float, temperature_c: float, basis: str
) -> None:
    strength_ww = share * SOLUTES[solute].strength_max_ww
    equivalents = EQUIVALENTS[solute][-1]
    start = solution_strengths(
        solute=solute, value=strength_ww, basis="ww", temperature_c=temperature_c,
        equivalents=equivalents,
    )  # fmt: skip
    value = {
        "ww": start.strength_ww,
        "wv": start.strength_wv,
        "g_l": start.g_l,
        "mg_l": start.g_l * 1000,
        "mol_l": start.mol_l,
        "eq_l": start.eq_l,
        "mol_kg": min(start.mol_kg, start.mol_kg * (1 - 1e-13)),
    }[basis]
    back = solution_strengths(
        solute=solute, value=value, basis=basis, temperature_c=temperature_c,
        equivalents=equivalents,
    )  # fmt: skip
    assert back.strength_ww == pytest.approx(strength_ww, rel=1e-9, abs=1e-9)


def test_concentrate_by_volume_turns_back_into_its_strength_by_weight() -> None:
    """A strength by volume larger than any strength by weight."""
    assert ww_from_wv(substance="NaOH", strength_wv=76.265) == pytest.approx(50, rel=1e-6)


def test_strength_beyond_the_table_is_refused_by_volume() -> None:
    with pytest.raises(OutOfRange, match=r"from 0 to 76\.265 % w/v"):
        ww_from_wv(substance="NaOH", strength_wv=80)


def test_strengths_of_arrays_are_those_of_each_point() -> None:
    strengths = np.array([0.5, 2.0, 50.0])
    by_volume = wv_from_ww(substance="NaOH", strength_ww=strengths)
    assert by_volume.tolist() == [
        wv_from_ww(substance="NaOH", strength_ww=ww) for ww in strengths.tolist()
    ]
    back = ww_from_wv(substance="NaOH", strength_wv=by_volume)
    assert back == pytest.approx(strengths, rel=1e-9)


def test_a_warm_litre_holds_less() -> None:
    cold, hot = (wv_from_ww(substance="NaOH", strength_ww=2, temperature_c=at) for at in (20, 70))
    assert cold / hot == pytest.approx(1.022, abs=0.001)


def test_normality_of_phosphoric_acid_needs_its_end_point() -> None:
    with pytest.raises(NotConvertible, match="depends on its end point"):
        solution_strengths(solute="H3PO4", value=0.5, basis="eq_l")
    once, twice = (
        solution_strengths(solute="H3PO4", value=0.5, basis="eq_l", equivalents=equivalents)
        for equivalents in (1, 2)
    )
    assert once.mol_l == pytest.approx(0.5)
    assert twice.mol_l == pytest.approx(0.25)


@pytest.mark.parametrize("solute, equivalents", [("NaOH", 2), ("H3PO4", 4)])
def test_equivalents_that_cannot_be_are_refused(solute: str, equivalents: int) -> None:
    with pytest.raises(NotConvertible, match=f"not {equivalents}"):
        solution_strengths(solute=solute, value=1, basis="ww", equivalents=equivalents)


def test_an_unknown_basis_is_refused() -> None:
    with pytest.raises(NotConvertible, match="baume"):
        solution_strengths(solute="NaOH", value=1, basis="baume")


def test_a_negative_strength_is_refused() -> None:
    with pytest.raises(OutOfRange, match="-1 g/L"):
        solution_strengths(solute="NaOH", value=-1, basis="g_l")


def test_working_can_be_followed() -> None:
    lines = solution_strengths(solute="NaOH", value=2, basis="ww").working
    assert [str(line) for line in lines[:3]] == [
        "density: ρ of NaOH = 2 % w/w at 20 °C = 1.0207 kg/L",
        "grams in a litre: 10 · w · ρ = 10 × 2 × 1.0207 = 20.414 g/L",
        "by volume: g/L ÷ 10 = 20.414 ÷ 10 = 2.0414 % w/v",
    ]


def test_soft_water_takes_no_caustic() -> None:
    assert caustic_lost_to_water_kg(alkalinity_mg_l_caco3=0, water_l=1000) == 0
    with pytest.raises(OutOfRange):
        caustic_lost_to_water_kg(alkalinity_mg_l_caco3=-1, water_l=1000)


def test_strength_without_a_table_converts_only_when_dilute() -> None:
    assert convert_strength(value=150, basis="mg_l", to_basis="ww", substance="PAA") == 0.015
    with pytest.raises(NotConvertible, match="no density table of PAA"):
        convert_strength(value=5, basis="ww", to_basis="wv", substance="PAA")


def test_titrated_strength_refuses_what_cannot_be() -> None:
    with pytest.raises(ValueError, match="negative"):
        titrated_strength_wv(
            equivalent_weight_g=40, titrant_ml=-1, titrant_normality=1, sample_ml=10
        )
    with pytest.raises(ValueError, match="above 0"):
        titrated_strength_wv(equivalent_weight_g=40, titrant_ml=1, titrant_normality=1, sample_ml=0)

"""Titrations against standard methods, textbooks and worked examples (provenance in brackets)."""

import pytest

from brewhygiene.science.oxidants import (
    available_chlorine,
    peracid_and_peroxide,
    titratable_iodine,
)
from brewhygiene.science.strength import ww_from_wv
from brewhygiene.science.titration import TitrationSetup, one_end_point
from brewhygiene.science.two_end_points import alkalinity_shares, mixed_acid, used_caustic

# P, T, hydroxide, carbonate, bicarbonate, all mg/L as CaCO3: Standard Methods 2320 B, table
# 2320:II (relations read in an instrument maker's manual that reproduces it; numbers computed).
RELATIONSHIPS = [
    (0, 200, "P = 0", 0, 0, 200),
    (40, 200, "P < T/2", 0, 80, 120),
    (100, 200, "P = T/2", 0, 200, 0),
    (150, 200, "P > T/2", 100, 100, 0),
    (200, 200, "P = T", 200, 0, 0),
]


@pytest.mark.parametrize("p, t, case, hydroxide, carbonate, bicarbonate", RELATIONSHIPS)
def test_alkalinity_relationships_are_as_published(
    p: float, t: float, case: str, hydroxide: float, carbonate: float, bicarbonate: float
) -> None:
    shares = alkalinity_shares(phenolphthalein=p, total=t)
    assert (shares.case, shares.hydroxide, shares.carbonate, shares.bicarbonate) == (
        case, hydroxide, carbonate, bicarbonate,
    )  # fmt: skip


def test_caustic_in_ml_is_as_published() -> None:
    """10.2 mL of 0.5 N on 10 mL: 0.510 eq/L, which the CRC Handbook has at 2.0 % w/w (read)."""
    titrated = one_end_point(
        setup=TitrationSetup(0.5, sample_ml=10), substance="NaOH", reading=10.2
    )
    assert titrated.eq_per_l_or_kg == pytest.approx(0.510)
    assert titrated.found.percent == pytest.approx(2.03985, rel=1e-4)
    strength_ww = ww_from_wv(substance="NaOH", strength_wv=titrated.found.percent)
    assert strength_ww == pytest.approx(1.99848, abs=0.0005)


def test_caustic_in_drops_is_as_published() -> None:
    """USP ⟨1101⟩: 45 to 55 mg a drop (read); 10 drops of 1 N on 1 mL are 2.0 % (computed)."""
    setup = TitrationSetup(1, sample_ml=1, drops_per_ml=20)
    titrated = one_end_point(setup=setup, substance="NaOH", reading=10)
    assert titrated.found.percent == pytest.approx(1.99986, rel=1e-4)
    # The dropper alone, ± 10 % rectangular, is 0.231 % w/v at k = 2; the count widens it.
    assert titrated.found.uncertainty.expanded > 0.23


def test_nitric_acid_is_as_published() -> None:
    """6.4 mL of 0.5 N on 10 mL: 0.320 eq/L, which the CRC Handbook has at 2.0 % w/w (read)."""
    titrated = one_end_point(setup=TitrationSetup(0.5, sample_ml=10), substance="HNO3", reading=6.4)
    assert titrated.found.grams_per_l_or_kg == pytest.approx(20.1641, rel=1e-4)


def test_used_caustic_is_as_published() -> None:
    """Warder's method; IUPAC Gold Book 09038 defines P (read); numbers computed."""
    used = used_caustic(
        setup=TitrationSetup(0.5, sample_ml=10), first_reading=10, second_reading=11.5
    )
    assert used.hydroxide.grams_per_l_or_kg == pytest.approx(16.9988, rel=1e-4)
    assert used.carbonate.grams_per_l_or_kg == pytest.approx(7.94913, rel=1e-4)
    assert used.bicarbonate.percent == 0
    assert used.carbonate_share_percent == pytest.approx(26.087, rel=1e-4)
    # Standard Methods 2320 B takes 50 000 mg/eq for CaCO3 (from memory), which is 0.09 % less.
    assert used.total_alkalinity_mg_l_caco3 == pytest.approx(28750, rel=1e-3)


def test_used_caustic_counts_half_the_carbonate_before_the_first_end_point() -> None:
    """An examination's 0.2 g and N/10: 30.0 % NaOH and 13.25 % Na2CO3 (problem read).

    The answer printed with it, 35 % NaOH, forgets that half.
    """
    used = used_caustic(
        setup=TitrationSetup(0.1, sample_g=0.2),
        first_reading=17.5,
        second_reading=2.5,
        second_from="first_end_point",
    )
    assert used.hydroxide.percent == pytest.approx(29.9978, abs=0.01)
    assert used.carbonate.percent == pytest.approx(13.2485, abs=0.01)


def test_carbonate_with_bicarbonate_is_as_published() -> None:
    """AP EAMCET Engineering 2013, question 59 (read): 0.1 mol/L of each."""
    used = used_caustic(
        setup=TitrationSetup(0.1, sample_ml=20), first_reading=20, second_reading=60
    )
    assert used.carbonate.grams_per_l_or_kg / 105.9884 == pytest.approx(0.1, rel=1e-5)
    assert used.bicarbonate.grams_per_l_or_kg / 84.0066 == pytest.approx(0.1, rel=1e-5)


def test_mixed_acid_is_as_published() -> None:
    """Stoichiometry (computed): 0.15 mol/L H3PO4 and 0.25 mol/L HNO3."""
    acid = mixed_acid(setup=TitrationSetup(0.5, sample_ml=10), first_reading=8, second_reading=11)
    assert acid.phosphoric.grams_per_l_or_kg == pytest.approx(14.6993, rel=1e-5)
    assert acid.nitric.grams_per_l_or_kg == pytest.approx(15.7532, rel=1e-5)


def test_peroxide_is_as_published() -> None:
    """A peracid sensor's operating manual, titration stage 1, p. 48 (read): 1003 mg/L."""
    titrated = one_end_point(
        setup=TitrationSetup(0.1, sample_ml=20), substance="H2O2", reading=11.8
    )
    assert titrated.found.milligrams_per_l_or_kg == pytest.approx(1003, abs=0.6)


def test_peracid_after_peroxide_is_as_published() -> None:
    """Two-step method after Greenspan and MacKellar, 1948 (from memory); numbers computed."""
    setup = TitrationSetup(0.1, sample_g=5)
    both = peracid_and_peroxide(
        peroxide_setup=setup, peroxide_reading=9.4, peracid_setup=setup, peracid_reading=2.63
    )
    assert both.peroxide.percent == pytest.approx(0.319738, rel=1e-5)
    assert both.peracid.percent == pytest.approx(0.200015, rel=1e-5)


def test_chlorine_is_as_published() -> None:
    """Standard Methods 4500-Cl B, (A − B) · N · 35 450 / mL (formula from memory)."""
    setup = TitrationSetup(0.1, sample_ml=100)
    chlorine = available_chlorine(setup=setup, reading=0.564)
    assert chlorine.chlorine.milligrams_per_l_or_kg == pytest.approx(19.9938, rel=1e-4)


def test_hypochlorite_factor_is_as_published() -> None:
    """USP 29, sodium hypochlorite solution, assay (read): 1 mL of 0.1 N is 3.722 mg NaClO."""
    chlorine = available_chlorine(setup=TitrationSetup(0.1, sample_ml=1), reading=1)
    assert chlorine.hypochlorite_percent * 10 == pytest.approx(3.722, abs=0.001)
    assert chlorine.chlorine.percent * 10 == pytest.approx(3.5453, abs=0.0001)


def test_bleach_is_as_published() -> None:
    """General Chemistry, 11th ed., ch. 21 (problem read, answer computed): 2.58 % NaClO."""
    chlorine = available_chlorine(setup=TitrationSetup(0.1, sample_g=5), reading=34.6)
    assert chlorine.hypochlorite_percent == pytest.approx(2.58, abs=0.005)


def test_iodine_is_as_published() -> None:
    """126.904 mg an equivalent (IUPAC): 1.97 mL of 0.01 N on 100 mL are 25 mg/L (computed)."""
    iodine = titratable_iodine(setup=TitrationSetup(0.01, sample_ml=100), reading=1.97)
    assert iodine.found.milligrams_per_l_or_kg == pytest.approx(25.0002, rel=1e-4)

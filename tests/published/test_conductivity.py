"""Conductivities against handbooks and the papers they come from (provenance in brackets)."""

import pytest

from brewhygiene.science.conductivity import (
    compensated_by_division_ms_cm,
    compensated_by_product_ms_cm,
    conductivity_ms_cm,
    strength_from_conductivity_ww,
)

CRC = "CRC Handbook (2010), Electrical Conductivity of Aqueous Solutions, 20 °C (read in copies)"
CRC_MEMORY = "CRC Handbook, Electrical Conductivity of Aqueous Solutions, 20 °C (from memory)"
KOHLRAUSCH = "Kohlrausch, 18 °C, in the Smithsonian tables (from memory)"
MCCLESKEY = "McCleskey et al., Geochim. Cosmochim. Acta 77 (2012) 369, coefficients (read)"

# solute, % w/w, °C, published mS/cm, allowed %, source.
CONDUCTIVITIES = [
    ("NaOH", 0.5, 20, 24.8, 3.5, CRC),
    ("NaOH", 1, 20, 48.6, 1.5, CRC),
    ("NaOH", 2, 20, 93.1, 0.5, CRC),
    ("NaOH", 5, 20, 206, 2, CRC),
    ("NaOH", 2.5, 18, 108.7, 1, KOHLRAUSCH),
    ("HNO3", 0.5, 20, 28.4, 2, CRC),
    ("HNO3", 1, 20, 56.1, 1, CRC),
    ("HNO3", 2, 20, 108, 1.5, CRC),
    ("KOH", 1, 20, 38.5, 3, CRC_MEMORY),
    ("KOH", 2, 20, 75.0, 3, CRC_MEMORY),
    # Worked out from the paper's coefficients by other code: the formula, not the world.
    ("HNO3", 2, 25, 117.5914163, 0.01, MCCLESKEY),
    ("HNO3", 2, 80, 200.5045276, 0.01, MCCLESKEY),
    ("HNO3", 0.5, 60, 45.48284579, 0.01, MCCLESKEY),
    ("KOH", 2, 70, 144.4054517, 0.01, MCCLESKEY),
]


@pytest.mark.parametrize(
    "solute, strength_ww, temperature_c, published, percent, source", CONDUCTIVITIES
)
def test_conductivity_is_as_published(
    solute: str, strength_ww: float, temperature_c: float, published: float, percent: float,
    source: str,
) -> None:  # fmt: skip
    ours = conductivity_ms_cm(solute=solute, strength_ww=strength_ww, temperature_c=temperature_c)
    assert ours == pytest.approx(published, rel=percent / 100), source


@pytest.mark.parametrize(
    "solute, strength_ww, published", [("NaOH", 2, 93.1), ("NaOH", 1, 48.6), ("HNO3", 2, 108)]
)
def test_strength_from_published_conductivity(
    solute: str, strength_ww: float, published: float
) -> None:
    """CRC Handbook (2010), 20 °C (read in copies); 2 % is the difference of the two tables."""
    ours = strength_from_conductivity_ww(
        solute=solute, conductivity_ms_cm=published, temperature_c=20
    )
    assert ours == pytest.approx(strength_ww, rel=0.02)


# CRC Handbook, Ionic conductivity at infinite dilution, 25 °C, S cm²/mol (read in a library's
# copy of the table): the sum of the two ions.
LIMITING = [
    ("NaOH", 39.9971, 50.08 + 198.0),
    ("KOH", 56.1056, 73.48 + 198.0),
    ("HNO3", 63.0129, 349.65 + 71.42),
]


@pytest.mark.parametrize("solute, molar_mass_g_mol, published", LIMITING)
def test_limiting_conductivity_is_as_published(
    solute: str, molar_mass_g_mol: float, published: float
) -> None:
    """At 1 µmol/kg the root's share is 0.03 %; a dropped sign in the ion H⁺ would be 5 %."""
    strength_ww = molar_mass_g_mol * 1e-6 / 10
    kappa = conductivity_ms_cm(solute=solute, strength_ww=strength_ww, temperature_c=25)
    assert kappa / 1e-6 == pytest.approx(published, rel=0.01)


def test_both_compensations_are_as_published() -> None:
    """ISO 7888 and IEC 60746-3 divide (read in copies); the other form is in circulation too."""
    reading = {"conductivity_ms_cm": 150.0, "temperature_c": 60.0, "alpha_per_k": 0.018}
    assert compensated_by_division_ms_cm(**reading) == pytest.approx(92.0245, rel=1e-6)
    assert compensated_by_product_ms_cm(**reading) == pytest.approx(55.5, rel=1e-9)

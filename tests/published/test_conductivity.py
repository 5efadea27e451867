"""Conductivities against handbooks and the papers they come from (provenance in brackets)."""

from collections.abc import Callable

import pytest

from brewhygiene.science.solutions.conductivity import (
    compensated_by_division_ms_cm,
    compensated_by_product_ms_cm,
    conductivity_ms_cm,
    strength_from_conductivity_ww,
)

Published = Callable[..., None]

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
    "solute, strength_ww, temperature_c, theirs, percent, source", CONDUCTIVITIES
)
def test_conductivity_is_as_published(
    published: Published, solute: str, strength_ww: float, temperature_c: float, theirs: float,
    percent: float, source: str,
) -> None:  # fmt: skip
    published(
        f"conductivity of {solute} {strength_ww:g} % w/w at {temperature_c:g} °C, mS/cm",
        conductivity_ms_cm(solute=solute, strength_ww=strength_ww, temperature_c=temperature_c),
        theirs,
        source,
        tolerance=theirs * percent / 100,
    )


@pytest.mark.parametrize(
    "solute, strength_ww, conductivity", [("NaOH", 2, 93.1), ("NaOH", 1, 48.6), ("HNO3", 2, 108)]
)
def test_strength_from_published_conductivity(
    published: Published, solute: str, strength_ww: float, conductivity: float
) -> None:
    published(
        f"{solute} of {conductivity:g} mS/cm at 20 °C, % w/w",
        strength_from_conductivity_ww(
            solute=solute, conductivity_ms_cm=conductivity, temperature_c=20
        ),
        strength_ww,
        CRC,
        # As far as the model and that table are apart.
        tolerance=strength_ww * 0.02,
    )


# CRC Handbook, Ionic conductivity at infinite dilution, 25 °C, S cm²/mol (read in a library's
# copy of the table): the sum of the two ions.
LIMITING = [
    ("NaOH", 39.9971, 50.08 + 198.0),
    ("KOH", 56.1056, 73.48 + 198.0),
    ("HNO3", 63.0129, 349.65 + 71.42),
]


@pytest.mark.parametrize("solute, molar_mass_g_mol, theirs", LIMITING)
def test_limiting_conductivity_is_as_published(
    published: Published, solute: str, molar_mass_g_mol: float, theirs: float
) -> None:
    # At 1 µmol/kg the root's share is 0.03 %; a dropped sign in the ion H⁺ would be 5 %.
    strength_ww = molar_mass_g_mol * 1e-6 / 10
    kappa = conductivity_ms_cm(solute=solute, strength_ww=strength_ww, temperature_c=25)
    published(
        f"limiting conductivity of {solute} at 25 °C, S cm²/mol",
        kappa / 1e-6,
        theirs,
        "CRC Handbook (2014), Ionic conductivity at infinite dilution (read in a library's copy)",
        tolerance=theirs * 0.01,
    )


def test_both_compensations_are_as_published(published: Published) -> None:
    reading = {"conductivity_ms_cm": 150.0, "temperature_c": 60.0, "alpha_per_k": 0.018}
    published(
        "150 mS/cm at 60 °C and 1.8 %/K brought to 25 °C by division, mS/cm",
        compensated_by_division_ms_cm(**reading),
        92.0245,
        "form of ISO 7888 and IEC 60746-3 (formula read in copies, number computed)",
        tolerance=1e-4,
    )
    published(
        "the same by the product, mS/cm",
        compensated_by_product_ms_cm(**reading),
        55.5,
        "the other form in circulation (formula read, number computed)",
        tolerance=1e-9,
    )

"""Density, bases and titrations against tables and worked examples."""

from collections.abc import Callable

import pytest

from brewhygiene.regimes.library.agents import AGENTS, CAUSTIC, NITRIC
from brewhygiene.science.solutions.density import solution_density_kg_l
from brewhygiene.science.solutions.strength import (
    EQUIVALENT_WEIGHT_G,
    convert_strength,
    titrated_strength_wv,
    wv_from_ww,
    ww_from_wv,
)

Published = Callable[..., None]

CRC = (
    "CRC Handbook of Chemistry and Physics, 102nd ed., Concentrative Properties of Aqueous "
    "Solutions, 20 °C, transcription read"
)
PERRY = "Perry's Chemical Engineers' Handbook, 6th ed., transcription read (attribution inferred)"
OPENSTAX = "OpenStax Chemistry, Appendix F, Composition of Commercial Acids and Bases, read"

# substance, % w/w, kg/L, mol/L
ROWS = [
    ("NaOH", 0.5, 1.0039, 0.125),
    ("NaOH", 2.0, 1.0207, 0.510),
    ("NaOH", 5.0, 1.0538, 1.317),
    ("NaOH", 20.0, 1.2192, 6.096),
    ("NaOH", 40.0, 1.4299, 14.300),
    ("KOH", 2.0, 1.0155, 0.362),
    ("KOH", 30.0, 1.2813, 6.851),
    ("HNO3", 2.0, 1.0091, 0.320),
    ("HNO3", 10.0, 1.0543, 1.673),
    ("HNO3", 40.0, 1.2466, 7.913),
    ("H3PO4", 2.0, 1.0092, 0.206),
    ("H3PO4", 10.0, 1.0531, 1.075),
    ("H3PO4", 40.0, 1.2536, 5.117),
]
# The largest relative deviation that the density model's docstring admits, to its last digit.
ADMITTED = {"NaOH": 0.00275, "KOH": 0.00665, "HNO3": 0.00145, "H3PO4": 0.00115}


@pytest.mark.parametrize(("substance", "strength_ww", "density_kg_l", "molarity"), ROWS)
def test_density_is_as_close_to_the_table_as_it_says(
    published: Published, substance: str, strength_ww: float, density_kg_l: float, molarity: float
) -> None:
    ours = solution_density_kg_l(solute=substance, strength_ww=strength_ww, temperature_c=20)
    published(
        f"{substance} {strength_ww:g} % w/w, kg/L",
        ours,
        density_kg_l,
        CRC,
        tolerance=density_kg_l * ADMITTED[substance],
    )


@pytest.mark.parametrize(("substance", "strength_ww", "density_kg_l", "molarity"), ROWS)
def test_strength_by_volume_gives_the_tables_molarity(
    published: Published, substance: str, strength_ww: float, density_kg_l: float, molarity: float
) -> None:
    # Each of these has one equivalent a mole as it is titrated here, so g/eq are g/mol.
    wv = wv_from_ww(substance=substance, strength_ww=strength_ww)
    published(
        f"{substance} {strength_ww:g} % w/w, mol/L",
        wv * 10 / EQUIVALENT_WEIGHT_G[substance],
        molarity,
        CRC,
        tolerance=molarity * ADMITTED[substance] + 0.0006,
    )


def test_two_percent_by_weight_is_more_by_volume(published: Published) -> None:
    published(
        "NaOH 2 % w/w in % w/v",
        wv_from_ww(substance="NaOH", strength_ww=2),
        2.04,
        f"{CRC}: 1.0207 kg/L",
        tolerance=0.005,
    )
    published(
        "NaOH 2 % w/v in % w/w",
        ww_from_wv(substance="NaOH", strength_wv=2),
        1.96029,
        f"{CRC}, by iteration",
        tolerance=0.002,
    )


def test_two_percent_of_a_liquor_by_volume_is_less_than_half(published: Published) -> None:
    # 32 % w/w has 1.349 kg/L at 20 °C: 0.02 · 32 · 1.349 = 0.863 % w/v.
    published(
        "2 % v/v of a 32 % liquor, % w/v",
        convert_strength(
            value=2,
            basis="vv",
            to_basis="wv",
            substance="NaOH",
            product_strength_ww=32,
            product_density_kg_l=1.349,
        ),
        0.863,
        f"{PERRY}: 32 %, 1.3490 kg/L; “about 0.9 %” in the trade",
        tolerance=0.001,
    )


def test_shipped_concentrates_have_the_tables_density(published: Published) -> None:
    densities = {values.name: values.concentrate_density_kg_l or 0.0 for values in AGENTS}
    published("caustic liquor 50 %, kg/L", densities[CAUSTIC], 1.5253, PERRY, 0.0005)
    published(
        "caustic liquor 50 %, mol/L",
        densities[CAUSTIC] * 500 / EQUIVALENT_WEIGHT_G["NaOH"],
        19.1,
        OPENSTAX,
        tolerance=0.06,
    )
    # Held between the table's nearest rows: 40 % (CRC) and 71 % (OpenStax), which it rises through.
    between = (1.42 - 1.2466) * (53 - 40) / (71 - 40) + 1.2466
    published(
        "nitric acid 53 %, kg/L",
        densities[NITRIC],
        between,
        f"between 40 % ({CRC}) and 71 % ({OPENSTAX})",
        tolerance=0.02,
    )


@pytest.mark.parametrize(
    ("substance", "mass_pct", "density_kg_l", "molarity"),
    [("NaOH", 50, 1.53, 19.1), ("HNO3", 71, 1.42, 16.0), ("H3PO4", 85, 1.70, 14.7)],
)
def test_equivalent_weight_gives_the_molarity_of_concentrates(
    published: Published, substance: str, mass_pct: float, density_kg_l: float, molarity: float
) -> None:
    published(
        f"{substance} {mass_pct} %, mol/L",
        density_kg_l * mass_pct * 10 / EQUIVALENT_WEIGHT_G[substance],
        molarity,
        OPENSTAX,
        tolerance=0.06,
    )


def test_titrated_nitric_acid(published: Published) -> None:
    # 6.4 mL of 0.5 N for 10 mL is 0.320 eq/L, which the CRC table gives for 2.0 % w/w.
    wv = titrated_strength_wv(
        equivalent_weight_g=EQUIVALENT_WEIGHT_G["HNO3"],
        titrant_ml=6.4,
        titrant_normality=0.5,
        sample_ml=10,
    )
    published("HNO3 titrated, g/L", wv * 10, 20.1641, "stoichiometry", tolerance=0.02)
    published(
        "HNO3 titrated, % w/w",
        ww_from_wv(substance="HNO3", strength_wv=wv),
        1.99823,
        f"stoichiometry; {CRC}: 0.320 mol/L is 2.0 %",
        tolerance=0.002,
    )


def test_titrated_caustic(published: Published) -> None:
    wv = titrated_strength_wv(
        equivalent_weight_g=EQUIVALENT_WEIGHT_G["NaOH"],
        titrant_ml=10.2,
        titrant_normality=0.5,
        sample_ml=10,
    )
    published("NaOH titrated, % w/v", wv, 2.03985, "stoichiometry", tolerance=0.0002)
    published(
        "NaOH titrated, % w/w",
        ww_from_wv(substance="NaOH", strength_wv=wv),
        1.99848,
        f"stoichiometry; {CRC}: 0.510 mol/L is 2.0 %",
        tolerance=0.002,
    )

"""Titrations against standard methods, textbooks and worked examples (provenance in brackets)."""

from collections.abc import Callable

import pytest

from brewhygiene.science.solutions.oxidants import (
    available_chlorine,
    peracid_and_peroxide,
    titratable_iodine,
)
from brewhygiene.science.solutions.strength import ww_from_wv
from brewhygiene.science.solutions.titration import TitrationSetup, one_end_point
from brewhygiene.science.solutions.two_end_points import alkalinity_shares, mixed_acid, used_caustic

Published = Callable[..., None]

CRC = "CRC Handbook, 102nd ed. (2021), Concentrative Properties of Aqueous Solutions (read)"
COMPUTED = "stoichiometry with IUPAC weights (computed)"
RELATIONS = (
    "Standard Methods 2320 B, table 2320:II (relations read in a manual that reproduces it, "
    "numbers computed)"
)
WARDER = "Warder's method; IUPAC Gold Book 09038 defines P (read), numbers computed"
# The answer printed with it, 35 % NaOH, forgets that half the carbonate comes before P.
EXAMINATION = "an entrance examination's 0.2 g and N/10 (problem read, answer computed)"
EAMCET = "AP EAMCET Engineering 2013, question 59 (read)"
GREENSPAN = "two steps after Greenspan and MacKellar, 1948 (from memory), numbers computed"
USP_ASSAY = "USP 29, sodium hypochlorite solution, assay (read)"

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
    published: Published, p: float, t: float, case: str, hydroxide: float, carbonate: float,
    bicarbonate: float,
) -> None:  # fmt: skip
    shares = alkalinity_shares(phenolphthalein=p, total=t)
    what = f"P {p}, T {t} mg/L as CaCO3"
    published(f"{what}: case", shares.case, case, RELATIONS)
    published(f"{what}: hydroxide", shares.hydroxide, hydroxide, RELATIONS)
    published(f"{what}: carbonate", shares.carbonate, carbonate, RELATIONS)
    published(f"{what}: bicarbonate", shares.bicarbonate, bicarbonate, RELATIONS)


HALF_NORMAL = TitrationSetup(0.5, sample_ml=10)


def test_caustic_in_ml_is_as_published(published: Published) -> None:
    titrated = one_end_point(setup=HALF_NORMAL, substance="NaOH", reading=10.2)
    source = f"{COMPUTED}; {CRC}: 0.510 mol/L is 2.0 % w/w"
    by_volume = titrated.found.percent
    by_weight = ww_from_wv(substance="NaOH", strength_wv=by_volume)
    published("10.2 mL of 0.5 N on 10 mL, eq/L", titrated.eq_per_l_or_kg, 0.51, source, 1e-9)
    published("the same, NaOH % w/v", by_volume, 2.03985, COMPUTED, 2e-5)
    published("the same, NaOH % w/w", by_weight, 1.99848, source, 5e-4)


def test_caustic_in_drops_is_as_published(published: Published) -> None:
    setup = TitrationSetup(1, sample_ml=1, drops_per_ml=20)
    found = one_end_point(setup=setup, substance="NaOH", reading=10).found
    published("10 drops of 1 N on 1 mL, NaOH % w/v", found.percent, 1.99986, COMPUTED, 2e-5)
    # Even within 1.79987 to 2.19984 is ± 0.2/√3, twice that at k = 2.
    dropper_alone = found.uncertainty.expanded * (dict(found.uncertainty.shares_percent)[
        "drop size"] / 100) ** 0.5  # fmt: skip
    published(
        "the same, what the dropper alone may be off (k = 2), % w/v",
        dropper_alone,
        2 * 0.199985 / 3**0.5,
        "USP ⟨1101⟩: 45 to 55 mg a drop (read); range computed",
        # To first order; the drop's size is in the divisor, and ± 10 % of it.
        tolerance=0.002,
    )


def test_nitric_acid_is_as_published(published: Published) -> None:
    found = one_end_point(setup=HALF_NORMAL, substance="HNO3", reading=6.4).found
    source = f"{COMPUTED}; {CRC}: 0.320 mol/L is 2.0 % w/w"
    published("6.4 mL of 0.5 N on 10 mL, HNO3 g/L", found.grams_per_l_or_kg, 20.1641, source, 1e-3)


def test_used_caustic_is_as_published(published: Published) -> None:
    used = used_caustic(setup=HALF_NORMAL, first_reading=10, second_reading=11.5)
    what = "used caustic, P 10 mL and T 11.5 mL of 0.5 N on 10 mL"
    published(f"{what}: NaOH g/L", used.hydroxide.grams_per_l_or_kg, 16.9988, WARDER, 1e-3)
    published(f"{what}: Na2CO3 g/L", used.carbonate.grams_per_l_or_kg, 7.94913, WARDER, 1e-3)
    published(f"{what}: carbonate, % of T", used.carbonate_share_percent, 26.087, WARDER, 1e-3)
    # It takes 50 000 mg/eq for CaCO3, which is 0.09 % less than the molar mass gives.
    published(
        f"{what}: mg/L as CaCO3",
        used.total_alkalinity_mg_l_caco3,
        28750.0,
        "Standard Methods 2320 B, A · N · 50 000 / mL (from memory)",
        tolerance=28,
    )


def test_used_caustic_counts_half_the_carbonate_before_the_first_end_point(
    published: Published,
) -> None:
    used = used_caustic(
        setup=TitrationSetup(0.1, sample_g=0.2),
        first_reading=17.5,
        second_reading=2.5,
        second_from="first_end_point",
    )
    what = "17.5 and further 2.5 mL of 0.1 N on 0.2 g"
    published(f"{what}: NaOH % w/w", used.hydroxide.percent, 29.9978, EXAMINATION, 1e-3)
    published(f"{what}: Na2CO3 % w/w", used.carbonate.percent, 13.2485, EXAMINATION, 1e-3)


def test_carbonate_with_bicarbonate_is_as_published(published: Published) -> None:
    used = used_caustic(
        setup=TitrationSetup(0.1, sample_ml=20), first_reading=20, second_reading=60
    )
    carbonate = used.carbonate.grams_per_l_or_kg / 105.9884
    bicarbonate = used.bicarbonate.grams_per_l_or_kg / 84.0066
    published("P 20, T 60 mL of 0.1 N on 20 mL: Na2CO3 mol/L", carbonate, 0.1, EAMCET, 1e-6)
    published("the same: NaHCO3 mol/L", bicarbonate, 0.1, EAMCET, 1e-6)


def test_mixed_acid_is_as_published(published: Published) -> None:
    acid = mixed_acid(setup=HALF_NORMAL, first_reading=8, second_reading=11)
    what = "mixed acid, 8 and 11 mL of 0.5 N on 10 mL"
    published(f"{what}: H3PO4 g/L", acid.phosphoric.grams_per_l_or_kg, 14.6993, COMPUTED, 1e-4)
    published(f"{what}: HNO3 g/L", acid.nitric.grams_per_l_or_kg, 15.7532, COMPUTED, 1e-4)


def test_peroxide_is_as_published(published: Published) -> None:
    setup = TitrationSetup(0.1, sample_ml=20)
    found = one_end_point(setup=setup, substance="H2O2", reading=11.8).found
    published(
        "11.8 mL of 0.1 N permanganate on 20 mL, H2O2 mg/L",
        found.milligrams_per_l_or_kg,
        1003,
        "a peracid sensor's operating manual, titration stage 1, p. 48 (read)",
        tolerance=0.6,
    )


def test_peracid_after_peroxide_is_as_published(published: Published) -> None:
    setup = TitrationSetup(0.1, sample_g=5)
    both = peracid_and_peroxide(
        peroxide_setup=setup, peroxide_reading=9.4, peracid_setup=setup, peracid_reading=2.63
    )
    published("9.4 mL of 0.1 N on 5 g, H2O2 % w/w", both.peroxide.percent, 0.319738, GREENSPAN,
              1e-5)  # fmt: skip
    published("then 2.63 mL, peracetic acid % w/w", both.peracid.percent, 0.200015, GREENSPAN,
              1e-5)  # fmt: skip


def test_chlorine_is_as_published(published: Published) -> None:
    setup = TitrationSetup(0.1, sample_ml=100)
    chlorine = available_chlorine(setup=setup, reading=0.564).chlorine
    published(
        "0.564 mL of 0.1 N on 100 mL, available chlorine mg/L",
        chlorine.milligrams_per_l_or_kg,
        19.9938,
        "Standard Methods 4500-Cl B, (A − B) · N · 35 450 / mL (from memory)",
        tolerance=0.002,
    )


def test_hypochlorite_factor_is_as_published(published: Published) -> None:
    found = available_chlorine(setup=TitrationSetup(0.1, sample_ml=1), reading=1)
    published("1 mL of 0.1 N, NaClO mg", found.hypochlorite_percent * 10, 3.722, USP_ASSAY, 1e-3)
    published("1 mL of 0.1 N, chlorine mg", found.chlorine.percent * 10, 3.5453, USP_ASSAY, 1e-4)


def test_bleach_is_as_published(published: Published) -> None:
    found = available_chlorine(setup=TitrationSetup(0.1, sample_g=5), reading=34.6)
    published(
        "34.6 mL of 0.1 N on 5 g of bleach, NaClO % w/w",
        found.hypochlorite_percent,
        2.5757,
        "General Chemistry, 11th ed., ch. 21 (problem read, answer computed)",
        tolerance=0.001,
    )


def test_iodine_is_as_published(published: Published) -> None:
    found = titratable_iodine(setup=TitrationSetup(0.01, sample_ml=100), reading=1.97).found
    published(
        "1.97 mL of 0.01 N on 100 mL, iodine mg/L",
        found.milligrams_per_l_or_kg,
        25.0002,
        COMPUTED,
        tolerance=0.002,
    )

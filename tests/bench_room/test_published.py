"""Each calculator's page against a published number or a worked example.

Provenance of a number: read (seen in the source named or a copy of it), memory (recalled),
computed (worked out from numbers that were read).
"""

from typing import Any

import pytest
from django.test import Client

from brewhygiene.bench.catalogue import BY_SLUG
from tests.bench_room.pages import ask, figures, working
from tests.published.test_measurement_system import GAUGE

pytestmark = pytest.mark.django_db

CRC = "CRC Handbook, 102nd ed. (2021), Concentrative Properties of Aqueous Solutions (read)"
CONDUCTIVITY = "CRC Handbook (2010), Electrical Conductivity of Aqueous Solutions, 20 °C (read)"
BALANCE = "mass balance with the densities of CRC and Perry (computed)"
WARDER = "Warder's method; IUPAC Gold Book 09038 defines P (read), numbers computed"
COMPUTED = "stoichiometry with IUPAC weights (computed)"
GREENSPAN = "two steps after Greenspan and MacKellar, 1948 (from memory), numbers computed"
STANDARD_METHODS = "Standard Methods 4500-Cl B, (A − B) · N · 35 450 / mL (from memory)"
ISO_7888 = "form of ISO 7888 and IEC 60746-3 (formula read in copies, number computed)"
DALTON = "Dalton's law with IF97's vapour pressure (computed)"
SEIBERLING = "Seiberling 2008, p. 162: 2 US gal/min per foot of circumference (read)"
DARCY = "Darcy, Weisbach and Colebrook, 50 m of 50 mm bore (computed with fluids and by hand)"
ISO_7218 = "ISO 7218:2007, 168 and 215 at 1e-2, 14 and 25 at 1e-3 (from memory)"
AIAG = "AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. III, GRR by ANOVA (read)"
MPN_TABLE = "table of 5 tubes of 10, 1 and 0.1 mL, 5-2-0 (from memory)"
PLUG = "V / Q with 1.3 volumes (computed)"
LALIBERTE = "Laliberté 2009 with Perry's density at 15 °C (density read, rest computed)"
MIXED = "heat balance (computed)"
DEL_VECCHIO = "Del Vecchio et al., Proc. ASBC 1951, 45: PU = t 1.393^(T-60) (formula read)"
A0 = "ISO 15883-1, A0: 600 s is 1 min at 90 °C (from memory)"
TRADE = "a 30 hL vessel full of CO2 takes about 10 kg of NaOH (common practice, no source)"
BY_HAND = "a difference and its compensation at one temperature (computed by hand)"
NEUTRAL = "CRC, 102nd ed., 1 % HNO3 (read); IUPAC's atomic weights (computed)"
PAIRS = "the same pairs from the CRC Handbook (read): a reading between two of them"

# The manual's readings by a hundred and 300 more, so that they are whole and above 0.
GAUGE_LINES = "\n".join(
    f"{person}; {place}; {round(100 * value) + 300}"
    for person, places in enumerate(GAUGE.values(), start=1)
    for place, values in enumerate(places, start=1)
    for value in values
)

# slug, inputs, label of the figure, published value, tolerance, unit, source.
CASES: list[tuple[str, dict[str, Any], str, float, float, str, str]] = [
    ("strength", {"value": 2}, "moles per litre", 0.510, 0.0006, "mol/L", CRC),
    ("strength", {"value": 2, "basis": "wv"}, "strength by weight", 1.96029, 0.0005, "% w/w", CRC),
    ("strength", {"value": 50}, "density", 1.5253, 0.0001, "kg/L", "Perry, 6th ed. (read)"),
    ("make-up", {"target": 2}, "concentrate", 26.7672, 0.005, "L", BALANCE),
    ("make-up", {"target": 2}, "water", 981.632, 0.1, "L", BALANCE),
    ("make-up", {"target": 2, "alkalinity": 150, "volume": 1018.71},
     "NaOH used up by the water", 0.119887, 1e-4, "kg", COMPUTED),
    ("into-water", {"target": 2}, "concentrate", 27.2681, 0.005, "L", BALANCE),
    ("into-water", {"target": 2}, "finished solution", 1018.71, 0.5, "L", BALANCE),
    ("top-up", {"present": 800}, "concentrate", 11.8763, 0.018, "L", BALANCE),
    ("top-up", {"present": 800}, "water", 191.745, 0.3, "L", BALANCE),
    ("correct-strength", {"present": 1000}, "concentrate to add", 8.309, 0.01, "L", BALANCE),
    ("mix", {"second": 50}, "strength", 1.907, 0.001, "% w/w", BALANCE),
    ("titration", {"reading": 10.2}, "strength", 2.03985, 0.0005, "% w/v", COMPUTED),
    ("titration", {"reading": 10.2}, "strength by weight, at 20 °C", 1.99848, 0.001, "% w/w", CRC),
    ("titration", {"reading": 10, "titrant": 1, "sample": 1, "counted": "drops",
                   "drops_per_ml": 20}, "strength", 1.99986, 0.005, "% w/v", COMPUTED),
    ("titration", {"substance": "HNO3", "reading": 6.4}, "strength in g/L", 20.1641, 0.01, "g/L",
     CRC),
    ("used-caustic", {"first_reading": 10}, "free NaOH", 1.69988, 0.001, "% w/v", WARDER),
    ("used-caustic", {"first_reading": 10}, "Na2CO3", 0.794913, 0.001, "% w/v", WARDER),
    ("mixed-acid", {"first_reading": 8}, "nitric acid in g/L", 15.7532, 0.005, "g/L", COMPUTED),
    ("mixed-acid", {"first_reading": 8}, "phosphoric acid in g/L", 14.6993, 0.005, "g/L", COMPUTED),
    ("peracetic", {"peracid_reading": 2.63}, "peracetic acid", 0.200015, 1e-4, "% w/w",
     GREENSPAN),
    ("peracetic", {"peroxide_reading": 9.4}, "hydrogen peroxide", 0.319738, 1e-4, "% w/w",
     GREENSPAN),
    ("chlorine-iodine", {"reading": 0.564}, "available chlorine", 19.9938, 0.05, "mg/L",
     STANDARD_METHODS),
    ("chlorine-iodine", {"substance": "iodine", "titrant": 0.01, "reading": 1.97}, "iodine",
     25.0002, 0.05, "mg/L", COMPUTED),
    ("conductivity", {"conductivity": 93.1}, "strength", 2.0, 0.04, "% w/w", CONDUCTIVITY),
    ("conductivity", {"substance": "HNO3", "conductivity": 108}, "strength", 2.0, 0.04, "% w/w",
     CONDUCTIVITY),
    ("compensation", {"conductivity": 150}, "at 25 °C, dividing form", 92.0245, 0.005, "mS/cm",
     ISO_7888),
    ("compensation", {"conductivity": 150}, "at 25 °C, multiplying form", 55.5, 0.001,
     "mS/cm", "the other form in circulation (formula read, number computed)"),
    ("rinse-end", {"rinse": 0.62}, "above fresh water, at 25 °C", 0.02, 1e-6, "mS/cm", BY_HAND),
    ("site-calibration", {"conductivity": 70, "temperature": 20}, "strength", 1.5, 0.05, "% w/w",
     PAIRS),
    ("tank-gas", {"temperature": 20, "solution": 1000}, "NaOH used up", 10.0, 0.3, "kg",
     TRADE),
    ("tank-gas", {"temperature": 20, "co2": 60}, "maximum vacuum if closed", 593.915, 0.5,
     "mbar", DALTON),
    ("tank-gas", {"target": 1}, "air to purge", 4.60517, 0.005, "volumes of the vessel",
     "ideal mixing, ln 100 (computed)"),
    ("cooling-vacuum", {"temperature": 80}, "maximum vacuum if closed", 542, 3, "mbar",
     DALTON),
    ("cooling-vacuum", {"filled": "steam"}, "maximum vacuum if closed", 989.858, 0.5, "mbar",
     "IF97 (computed)"),
    ("spray", {"diameter": 2}, "minimum flow", 156.07, 1.1, "L/min", SEIBERLING),
    ("line-flow", {"flow": 176.715, "length_1": 50}, "pressure drop", 0.216382, 0.0005, "bar",
     DARCY),
    ("line-flow", {"flow": 176.715, "temperature": 70}, "Reynolds number", 182_000, 500, "",
     "ρ v D / μ with IAPWS water (computed)"),
    ("rinse-line", {"flow": 176.7146}, "water, with margin", 153.153, 0.1, "L", PLUG),
    ("rinse-line", {"flow": 176.7146}, "time for one line volume", 40.0, 0.05, "s", PLUG),
    ("rinse-vessel", {"reduction": 1000}, "number of bursts", 3, 0, "",
     "c = c0 (r/(r+R))^n (computed)"),
    ("rinse-vessel", {"reduction": 1000}, "continuous rinse, water", 1381.55, 0.5, "L",
     "ln(c0/c) of an ideally mixed tank (computed)"),
    ("heating", {"volume": 1000}, "heat", 69.5504, 0.01, "kWh", LALIBERTE),
    # 200 kg of water and 800 kg of steel, both in kJ/K: 836.8 and 400.
    ("cold-steel", {"substance": "", "volume": 205.8}, "final temperature", 57.4, 0.1, "°C", MIXED),
    ("lethality", {"minutes": 10}, "pasteurisation units", 52.4512, 0.001, "PU", DEL_VECCHIO),
    ("lethality", {"reference": "A0", "temperature": 90, "minutes": 1}, "A0", 600.0, 0.01, "s",
     A0),
    ("logged-temperature", {"readings": "0; 80\n40; 80\n60; 80", "times": "s"},
     "pasteurisation units",
     756.872, 0.01, "PU", DEL_VECCHIO),
    ("colonies", {"colonies_1": 168, "colonies_2": 215, "dilution_2": 100, "colonies_3": 14,
                  "volume_3": 1, "dilution_3": 1000, "colonies_4": 25, "volume_4": 1,
                  "dilution_4": 1000}, "weighted mean", 19181.818, 0.5, "CFU/mL", ISO_7218),
    ("most-probable-number", {"grew_1": 5, "grew_2": 2}, "per 100 mL", 49, 0, "", MPN_TABLE),
    ("repeatability", {"readings": GAUGE_LINES, "scale": "rlu"},
     "repeatability, one person and point", 19.9933, 0.05, "RLU", AIAG),
    ("repeatability", {"readings": GAUGE_LINES, "scale": "rlu"}, "reproducibility, between people",
     22.6838, 0.05, "RLU",
     AIAG),
    ("repeatability", {"readings": GAUGE_LINES, "scale": "rlu"}, "variation between points",
     104.2327, 0.5, "RLU",
     AIAG),
    ("cost", {"caustic_volume": 1000}, "caustic concentrate", 40.828, 0.005, "kg", BALANCE),
    ("cost", {"caustic_volume": 1000}, "alkaline load, as NaOH", 20.414, 0.005, "kg", BALANCE),
    # 10.037 kg of HNO3 of 63.0129 g/eq, as NaOH of 39.9971 g/eq.
    ("cost", {"acid_volume": 1000}, "acid load, as NaOH", 6.37083, 0.003, "kg", NEUTRAL),
    # Weighed at 20 °C, 1020.7 kg, where the example has 1021.98 kg at 15 °C.
    ("cost", {"caustic_volume": 1000, "supply": 15}, "heat", 69.5504 * 1020.7 / 1021.98, 0.01,
     "kWh", LALIBERTE),
    ("cost", {"rinse_flow": 176.715, "rinse_minutes": 1, "caustic_volume": ""}, "water", 1.76715,
     0.001, "hL", "Q t (computed)"),
]  # fmt: skip


@pytest.mark.usefixtures("brewery")
@pytest.mark.parametrize(
    "slug, inputs, label, value, tolerance, unit, source",
    CASES,
    ids=[f"{case[0]}-{case[2]}-{place}" for place, case in enumerate(CASES)],
)
def test_page_answers_as_published(
    client: Client, slug: str, inputs: dict[str, Any], label: str, value: float, tolerance: float,
    unit: str, source: str,
) -> None:  # fmt: skip
    response = ask(client, slug, **inputs)
    shown = figures(response)[label]
    assert shown.number == pytest.approx(value, abs=tolerance), source
    assert shown.unit == unit
    assert working(response) != []


def test_every_calculator_has_a_published_case() -> None:
    assert {case[0] for case in CASES} == set(BY_SLUG)


@pytest.mark.usefixtures("brewery")
def test_uncertainty_of_a_titration_is_beside_it(client: Client) -> None:
    """0.05 of 10.2 mL, 0.5 % and 0.5 %, each over √3, together and twice: 0.0203 % w/v."""
    shown = figures(ask(client, "titration", reading=10.2))["strength"]
    assert (shown.value, shown.uncertainty, shown.unit) == ("2.040", "0.020", "% w/v")


@pytest.mark.usefixtures("brewery")
def test_working_can_be_followed_by_hand(client: Client) -> None:
    lines = working(ask(client, "make-up", target=2))
    assert lines[:3] == [
        "finished solution V · ρ = 1000 × 1.0207 = 1020.7 kg",
        "active substance m · w ÷ 100 = 1020.7 × 2 ÷ 100 = 20.414 kg",
        "concentrate active × 100 ÷ its strength = 20.414 × 100 ÷ 50 = 40.828 kg",
    ]

"""What to add to a circuit, against sums done by hand with a handbook's densities."""

import dataclasses

import pytest

from brewhygiene.brewery.models import Brewery
from brewhygiene.regimes.models import Agent, StepWindow
from brewhygiene.turnarounds.advice.what_to_add import NO_TABLE, WhatToAdd, what_to_add
from brewhygiene.turnarounds.models import StepReading

SITE = Brewery(name="Quenlarrow & Ombry (invented)")
# Perry's Chemical Engineers' Handbook, 6th ed., NaOH at 20 °C, kg/L; between rows by proportion.
NAOH_KG_L = {1.4: 1.0095 + 0.4 * (1.0207 - 1.0095), 3: 1.0318, 50: 1.5253}


def agent(**values) -> Agent:
    return Agent(
        **{
            "name": "Caustic liquor 50 %",
            "kind": "caustic",
            "active_substance": "NaOH",
            "concentrate_strength_ww": 50,
            "concentrate_density_kg_l": 1.525,
            **values,
        }
    )


PERACETIC = {
    "name": "Peracetic acid 15 %",
    "kind": "sanitiser",
    "active_substance": "PAA",
    "concentrate_strength_ww": 15,
    "concentrate_density_kg_l": 1.15,
}


def window(minimum=1.5, maximum=3.0, target=2.0, basis="ww") -> StepWindow:
    return StepWindow(
        quantity="concentration", basis=basis, minimum=minimum, target=target, maximum=maximum
    )


def reading(value, verdict="below", quantity="concentration") -> StepReading:
    return StepReading(quantity=quantity, value=value, judged_value=value, verdict=verdict)


def added(value, *, of=None, within=None, litres=1000.0, brewery=SITE, **more) -> WhatToAdd:
    found = what_to_add(
        reading(value, **more),
        window=within or window(),
        agent=of or agent(),
        solution_l=litres,
        brewery=brewery,
    )
    assert found is not None
    return found


def test_weak_caustic_takes_so_much_liquor() -> None:
    """1000 L of 1.4 %: m (2 - 1.4) / (50 - 2), densities of Perry's table; ours within 0.2 %."""
    kg = 1000 * NAOH_KG_L[1.4] * 0.6 / 48
    found = added(1.4)
    assert found.kg == pytest.approx(kg, rel=2e-3)
    assert found.litres == pytest.approx(kg / NAOH_KG_L[50], rel=3e-3)
    assert (found.what, found.too_strong, found.aim) == (
        "Caustic liquor 50 %",
        False,
        "2 % w/w, the target",
    )
    assert found.amount == "12.7 kg, which is 8.31 L,"
    assert found.rule.startswith("Always add caustic or acid to water")
    assert [line.label for line in found.working][:3] == [
        "present solution",
        "concentrate",
        "concentrate by volume",
    ]


def test_strong_caustic_takes_water_and_no_rule_of_concentrate() -> None:
    """500 L of 3 % to 2 %: half its mass of water; 3 % weighs 1.0318 kg/L (Perry, 6th ed.)."""
    found = added(3.4, litres=500.0, verdict="above")
    assert (found.what, found.too_strong, found.rule, found.warms) == ("water", True, "", "")
    half = added(3.0, litres=500.0, verdict="above")
    assert half.kg == pytest.approx(500 * NAOH_KG_L[3] * 0.5, rel=2e-3)
    assert half.litres == pytest.approx(half.kg / 0.9982, rel=1e-3)


def test_by_volume_comes_to_the_same_as_by_weight() -> None:
    """2 % w/v is 2 / 1.0203 = 1.9602 % w/w where it weighs 1.0203 kg/L (Perry, between rows)."""
    by_volume = added(1.2, within=window(basis="wv"))
    by_weight = added(1.2 / 1.0115, within=window(target=1.9602))
    assert by_volume.kg == pytest.approx(by_weight.kg, rel=5e-3)
    assert by_volume.aim == "2 % w/v, the target"


def test_nitric_acid_by_its_own_density() -> None:
    """300 L of 0.5 %, which weighs 1.0009 kg/L (CRC Handbook, from memory): m 0.5 / 52."""
    acid = agent(
        name="Nitric acid 53 %",
        kind="acid",
        active_substance="HNO3",
        concentrate_strength_ww=53,
        concentrate_density_kg_l=1.33,
    )
    found = added(0.5, of=acid, within=window(0.8, 2, 1.0), litres=300.0)
    assert found.kg == pytest.approx(300 * 1.0009 * 0.5 / 52, rel=5e-3)


def test_thin_sanitiser_by_mass_alone() -> None:
    """500 L lack 50 mg/L: 25 g active, 166.7 g of 15 %; counted as water, within 0.5 %."""
    found = added(100, of=agent(**PERACETIC), within=window(120, 200, 150, "mg_l"), litres=500.0)
    assert found.kg == pytest.approx(0.025 / 0.15, rel=5e-3)
    assert found.litres == pytest.approx(0.025 / 0.15 / 1.15, rel=5e-3)
    assert found.amount == "167 g, which is 145 mL,"
    assert found.rule == "Always concentrate into water, never water into concentrate."
    assert "1 kg/L" in found.notes[0]


def test_thin_sanitiser_of_unknown_density_is_weighed() -> None:
    thin = agent(**PERACETIC | {"concentrate_density_kg_l": None})
    found = added(100, of=thin, within=window(120, 200, 150, "mg_l"), litres=500.0)
    assert (found.litres, found.amount) == (None, "167 g")
    assert found.notes[1] == "The density in the drum is not on record. Weigh the agent."
    assert "concentrate by volume" not in [line.label for line in found.working]


@pytest.mark.parametrize(
    "bounds, aim",
    [
        ((1.5, 3.0, None), "2.25 % w/w, the middle of the window"),
        ((1.5, None, None), "1.5 % w/w, the minimum"),
        ((1.5, 3.0, 1.8), "1.8 % w/w, the target"),
    ],
)
def test_aim_is_the_target_or_what_there_is(bounds, aim: str) -> None:
    minimum, maximum, target = bounds
    assert added(1.0, within=window(minimum, maximum, target)).aim == aim


def test_unknown_volume_is_asked_for() -> None:
    found = added(1.0, litres=None)
    assert (found.ask_volume, found.refusal, found.kg) == (True, "", 0)


@pytest.mark.parametrize(
    "values, within, value, said",
    [
        (
            {"active_substance": "HNO3+H3PO4", "kind": "acid"},
            window(),
            1.0,
            NO_TABLE.format(substance="nitric and phosphoric acid blend"),
        ),
        (PERACETIC, window(0.01, 0.02, 0.015), 0.005, NO_TABLE.format(substance="peracetic acid")),
        (
            {"concentrate_strength_ww": 1.8},
            window(),
            1.0,
            "A concentrate of 1.8 % w/w cannot give 2 % w/w. Choose a stronger one.",
        ),
    ],
)
def test_sum_that_cannot_be_done_says_why(values, within, value, said) -> None:
    found = added(value, of=agent(**values), within=within)
    assert (found.refusal, found.kg, found.ask_volume) == (said, 0, False)


@pytest.mark.parametrize(
    "read, within, of",
    [
        (reading(2.0, "within"), window(), agent()),
        (reading(2.0, "no_window"), None, agent()),
        (reading(1.0), window(), None),
        (reading(40, quantity="temperature_c"), window(), agent()),
    ],
)
def test_nothing_is_due_where_nothing_is_off(read, within, of) -> None:
    assert what_to_add(read, window=within, agent=of, solution_l=500, brewery=SITE) is None


def test_site_of_barrels_reads_gallons_and_fahrenheit() -> None:
    """12.7 kg of 1.525 kg/L are 8.31 L, 2.195 US gal of 3.785411784 L."""
    site = Brewery(name="x", volume_unit="bbl", temperature_unit="F")
    found = added(1.4, brewery=site)
    assert found.amount == "12.7 kg, which is 2.2 US gal,"
    kelvin = float(added(1.4).warms.split()[0])
    assert float(found.warms.split()[0]) == pytest.approx(1.8 * kelvin, rel=0.05)
    assert found.warms.endswith("°F")


def test_bench_is_told_the_same_numbers() -> None:
    found = dataclasses.asdict(added(1.4))
    assert found["bench_query"] == (
        "substance=NaOH&concentrate_ww=50&density_kg_l=1.525&present=1000.0&present_strength=1.4"
        "&target=2.0&basis=ww&units=C_hL_L%2Fmin"
    )

"""What a clean costs, and where each amount comes from."""

import dataclasses

import pytest

from brewhygiene.science.cost import AgentUsed, Given, Prices, Shared, StepUse, clean_cost
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.density import solution_density_kg_l
from brewhygiene.science.tank.heat import heating

CAUSTIC = AgentUsed("Caustic liquor 50 %", "NaOH", 50, Given(read=1.8, planned=2.0), price_kg=0.6)
BLEND = AgentUsed(
    "Acid blend", "HNO3+H3PO4", 60, Given(planned=1.0), equivalent_g=75, reaction="acid"
)
STEPS = (
    StepUse("pre-rinse", Given(read=6, planned=5), Given(planned=300)),
    StepUse("caustic", Given(planned=30), Given(read=400), Given(planned=75), CAUSTIC, 0.5),
    StepUse("acid", Given(planned=15), Given(planned=300), Given(planned=10), BLEND),
)
PRICES = Prices(water_hl=0.5, effluent_hl=0.8, load_kg_naoh=0.2, energy_kwh=0.15)


def lines(what: str) -> dict[str, tuple]:
    cost = clean_cost(steps=STEPS, prices=PRICES, vessel_hl=20)
    return {line.step: (line.amount, line.source) for line in cost.lines if line.what == what}


def test_a_reading_comes_before_the_plan() -> None:
    assert lines("time") == {
        "pre-rinse": (6, "read"),
        "caustic": (30, "from the regime"),
        "acid": (15, "from the regime"),
    }
    assert lines("water") == {
        "pre-rinse": (3, "from the regime"),
        # Half of 400 L is kept: what is let go is what the next clean has to draw again.
        "caustic": (2, "read"),
        "acid": (3, "from the regime"),
    }


def test_kept_solution_is_neither_water_nor_effluent_but_is_heated() -> None:
    kept, drained = (
        clean_cost(
            steps=[dataclasses.replace(STEPS[1], recovered_share=share)], prices=PRICES,
            vessel_hl=20,
        )
        for share in (1.0, 0.0)
    )  # fmt: skip
    assert (kept.water_hl, kept.effluent_hl, kept.alkaline_load_kg_naoh) == (0, 0, 0)
    assert kept.agents_kg["Caustic liquor 50 %"] == 0
    assert (drained.water_hl, drained.effluent_hl) == (4, 4)
    assert kept.heat_kwh == drained.heat_kwh > 0


def test_water_in_is_water_out() -> None:
    cost = clean_cost(steps=STEPS, prices=PRICES, vessel_hl=20)
    assert lines("water") == {
        line.step: (line.amount, line.source) for line in cost.lines if line.label == "effluent"
    }


def test_agent_is_counted_by_mass_without_what_is_recovered() -> None:
    density = solution_density_kg_l(solute="NaOH", strength_ww=1.8, temperature_c=20)
    product_kg, source = lines("agent")["caustic"]
    assert product_kg == pytest.approx(400 * density * 0.018 / 0.5 * 0.5)
    assert source == "read"


def test_loads_of_acid_and_alkali_are_kept_apart_in_equivalents() -> None:
    cost = clean_cost(steps=STEPS, prices=PRICES, vessel_hl=20)
    density = solution_density_kg_l(solute="NaOH", strength_ww=1.8, temperature_c=20)
    assert cost.alkaline_load_kg_naoh == pytest.approx(400 * density * 0.018 * 0.5)
    assert cost.acid_load_kg_naoh == pytest.approx(300 * 0.01 / 75 * 39.9971)


def test_heat_is_that_of_the_solution_and_says_when_partly_read() -> None:
    density = solution_density_kg_l(solute="NaOH", strength_ww=1.8, temperature_c=20)
    warm = heating(solution_kg=400 * density, from_c=12, to_c=75, solute="NaOH", strength_ww=1.8)
    # The acid at 10 °C is colder than the water: it is not warmed.
    assert lines("heat") == {"caustic": (pytest.approx(warm.energy_kwh), "partly read")}


def test_totals_are_the_sums_of_the_lines_and_per_hl() -> None:
    cost = clean_cost(steps=STEPS, prices=PRICES, vessel_hl=20)
    assert (cost.water_hl, cost.effluent_hl, cost.minutes) == (8, 8, 51)
    assert cost.money == pytest.approx(sum(line.money or 0 for line in cost.lines))
    assert cost.money_per_hl == pytest.approx(cost.money / 20)
    assert cost.water_hl_per_hl == 0.4
    assert cost.agents_kg["Caustic liquor 50 %"] == lines("agent")["caustic"][0]


def test_what_has_no_price_is_named_and_not_added() -> None:
    cost = clean_cost(steps=STEPS, prices=Prices(water_hl=0.5), vessel_hl=20)
    agent = next(line for line in cost.lines if line.label == CAUSTIC.name)
    assert cost.money == pytest.approx(8 * 0.5 + agent.money)
    assert cost.unpriced == ("time", "effluent", "alkaline load", "heat", "Acid blend", "acid load")


def test_what_is_neither_read_nor_planned_is_named() -> None:
    bare = StepUse("sanitiser", agent=dataclasses.replace(CAUSTIC, strength_ww=Given()))
    filled = dataclasses.replace(bare, label="again", volume_l=Given(read=100))
    cost = clean_cost(steps=[bare, filled], prices=PRICES, vessel_hl=20)
    assert cost.missing == (
        "sanitiser: time",
        "sanitiser: volume",
        "sanitiser: Caustic liquor 50 %",
        "again: time",
        "again: strength of Caustic liquor 50 %",
    )
    assert cost.water_hl == 1


def test_sanitiser_counts_no_load() -> None:
    agent = AgentUsed("Peracetic acid 15 %", "PAA", 15, Given(read=0.015), price_kg=2)
    cost = clean_cost(
        steps=[StepUse("sanitiser", Given(read=10), Given(read=100), agent=agent)],
        prices=PRICES, vessel_hl=20,
    )  # fmt: skip
    assert (cost.alkaline_load_kg_naoh, cost.acid_load_kg_naoh) == (0, 0)
    assert cost.agents_kg["Peracetic acid 15 %"] == pytest.approx(0.1)


@pytest.mark.parametrize(
    "change",
    [
        {"volume_l": Given(read=-1)},
        {"minutes": Given(read=-1)},
        {"recovered_share": 1.1},
        {"temperature_c": Given(read=130)},
        {"agent": dataclasses.replace(CAUSTIC, strength_ww=Given(read=60))},
    ],
)
def test_amount_that_cannot_be_is_refused(change: dict[str, object]) -> None:
    with pytest.raises(OutOfRange):
        clean_cost(steps=[dataclasses.replace(STEPS[1], **change)], prices=PRICES, vessel_hl=20)


def test_every_line_shows_its_sum() -> None:
    cost = clean_cost(steps=STEPS, prices=PRICES, vessel_hl=20)
    assert all(line.working.value == line.amount for line in cost.lines)


def test_a_shared_solution_counts_by_its_uses_whatever_was_read() -> None:
    """500 L and 20 kg of 50 % over four uses: 1.25 hL, 5 kg, of which 2.5 kg are NaOH."""
    shared = Shared(agent_kg=20, water_l=500, uses=4)
    cost = clean_cost(
        steps=[dataclasses.replace(STEPS[1], shared=shared)], prices=PRICES, vessel_hl=20
    )
    assert (cost.water_hl, cost.effluent_hl) == (1.25, 1.25)
    assert cost.agents_kg == {"Caustic liquor 50 %": 5}
    assert cost.alkaline_load_kg_naoh == pytest.approx(2.5)
    unread = dataclasses.replace(CAUSTIC, strength_ww=Given())
    step = dataclasses.replace(STEPS[1], shared=shared, agent=unread)
    unknown = clean_cost(steps=[step], prices=PRICES, vessel_hl=20)
    assert (unknown.agents_kg, unknown.missing) == ({"Caustic liquor 50 %": 5}, ())


@pytest.mark.parametrize("wrong", [{"uses": 0}, {"agent_kg": -1}, {"water_l": -1}])
def test_a_shared_solution_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    shared = dataclasses.replace(Shared(agent_kg=20, water_l=500, uses=4), **wrong)
    with pytest.raises(OutOfRange):
        clean_cost(
            steps=[dataclasses.replace(STEPS[1], shared=shared)], prices=PRICES, vessel_hl=20
        )

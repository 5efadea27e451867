"""What a clean uses against sums that were published or done by hand from published numbers.

Provenance of a number: read (seen in the source named or a copy of it), memory (recalled),
computed (worked out from numbers that were read).
"""

from collections.abc import Callable

import pytest
from chemicals.elements import molecular_weight, simple_formula_parser

from brewhygiene.science.cost import AgentUsed, CleanCost, Given, Prices, StepUse, clean_cost

Published = Callable[..., None]

BALANCE = "mass balance with the densities of CRC and Perry (computed)"
IUPAC = "molar masses by IUPAC's atomic weights (library chemicals 1.5.2, computed)"
# A solution is weighed by our densities, which are within 0.1 % of CRC's when dilute.
DENSITY = 0.001


def of(substance: str, *, strength_ww: float, concentrate_ww: float, **step: Given) -> CleanCost:
    """A thousand litres of one solution, all of it let go."""
    agent = AgentUsed("it", substance, concentrate_ww, Given(strength_ww))
    use = StepUse("step", volume_l=Given(1000), agent=agent, **step)
    return clean_cost(steps=[use], prices=Prices(supply_c=15), vessel_hl=100)


def test_caustic_for_a_thousand_litres(published: Published) -> None:
    cost = of("NaOH", strength_ww=2, concentrate_ww=50)
    published("50 % NaOH in 1000 L of 2 % at 20 °C, kg", cost.agents_kg["it"], 40.828, BALANCE,
              40.828 * DENSITY)  # fmt: skip
    published("NaOH let go with it, kg", cost.alkaline_load_kg_naoh, 20.414, BALANCE,
              20.414 * DENSITY)  # fmt: skip


# Density at 20 °C in kg/L: CRC Handbook, 102nd ed., sect. 5 (read in a copy of the table).
@pytest.mark.parametrize(
    "substance, equivalents, strength_ww, kg_l",
    [("HNO3", 1, 1, 1.0037), ("HNO3", 1, 2, 1.0091), ("KOH", 1, 2, 1.0155)],
)
def test_load_in_caustic_is_that_of_the_equivalents(
    published: Published, substance: str, equivalents: int, strength_ww: float, kg_l: float
) -> None:
    cost = of(substance, strength_ww=strength_ww, concentrate_ww=45)
    ours = cost.acid_load_kg_naoh + cost.alkaline_load_kg_naoh
    molar = {name: molecular_weight(simple_formula_parser(name)) for name in (substance, "NaOH")}
    theirs = 10 * strength_ww * kg_l * equivalents * molar["NaOH"] / molar[substance]
    published(f"{strength_ww} % {substance}, 1000 L, as kg of NaOH", ours, theirs, f"CRC; {IUPAC}",
              theirs * DENSITY)  # fmt: skip


def test_heat_of_a_thousand_litres_of_caustic(published: Published) -> None:
    cost = of("NaOH", strength_ww=2, concentrate_ww=50, temperature_c=Given(75))
    # The worked example weighs them at 15 °C, 1021.98 kg; the cost of a clean at 20 °C.
    source = "Laliberté 2009 with Perry's density (density read, rest computed)"
    theirs = 69.5504 * 1020.7 / 1021.98
    published("1000 L of 2 % NaOH from 15 to 75 °C, kWh", cost.heat_kwh, theirs, source, 0.05)

"""What to add to a circuit whose solution reads too weak or too strong. No queries."""

import dataclasses
from urllib.parse import urlencode

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.regimes.models import ActiveSubstance, Agent, Basis, Quantity, StepWindow
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.batch import ORDER_RULE, Batch, Concentrate, Infeasible
from brewhygiene.science.solutions.density import SOLUTES
from brewhygiene.science.solutions.strength import NotConvertible, convert_strength
from brewhygiene.science.solutions.topup import correct_strength
from brewhygiene.science.working import WorkingLine
from brewhygiene.turnarounds.models import StepReading, WindowVerdict
from brewhygiene.turnarounds.quantities import show_value

INTO_WATER = "Always concentrate into water, never water into concentrate."
AT_20_C = "Volume of the solution at 20 °C."
AS_WATER = "Counted as water: 1 mg/L as 1 mg/kg, at 1 kg/L."
NO_TABLE = (
    "There is no density table of {substance}, so the amount cannot be calculated from a share "
    "by weight. Use the maker's data sheet."
)
# The units of an address to the bench, whose numbers are those of the sums.
BENCH_UNITS = "C_hL_L/min"


@dataclasses.dataclass(frozen=True)
class WhatToAdd:
    """What brings a circuit to its strength, in words; or what is asked or refused instead.

    ``refusal`` says why there is no amount; ``ask_volume`` that the solution's volume is not
    known. ``kg`` and ``litres`` are of ``what``; ``litres`` is ``None`` without its density.
    """

    too_strong: bool
    aim: str
    what: str = ""
    kg: float = 0.0
    litres: float | None = None
    amount: str = ""
    becomes: str = ""
    warms: str = ""
    rule: str = ""
    notes: tuple[str, ...] = ()
    working: tuple[WorkingLine, ...] = ()
    refusal: str = ""
    ask_volume: bool = False
    bench_query: str = ""


def aim_of(window: StepWindow) -> tuple[float, str] | None:
    """The value to come to and what it is: the target, the middle, or the one bound there is."""
    if window.target is not None:
        return window.target, "the target"
    if window.minimum is not None and window.maximum is not None:
        return (window.minimum + window.maximum) / 2, "the middle of the window"
    if window.minimum is not None:
        return window.minimum, "the minimum"
    return None if window.maximum is None else (window.maximum, "the maximum")


def by_weight(value: float, *, basis: str, agent: Agent) -> float:
    """A strength of an agent in % w/w. Raises ``NotConvertible`` or ``OutOfRange``."""
    return convert_strength(
        value=value,
        basis=basis,
        to_basis=Basis.WW,
        substance=agent.active_substance,
        product_strength_ww=agent.concentrate_strength_ww,
        product_density_kg_l=agent.concentrate_density_kg_l,
    )


def solution_words(litres: float, brewery: Brewery) -> str:
    """A volume of solution in the site's unit; less than a litre in mL."""
    if litres < 1:
        return f"{show_number(litres * 1000, significant=3)} mL"
    shown = convert(litres, "L", brewery.solution_unit)
    return f"{show_number(shown, significant=3)} {LABELS[brewery.solution_unit]}"


def mass_words(kg: float, *, significant: int = 3) -> str:
    """A mass in kg; less than one in g.

    >>> mass_words(12.456), mass_words(0.0451)
    ('12.5 kg', '45.1 g')
    """
    if kg < 1:
        return f"{show_number(kg * 1000, significant=significant)} g"
    return f"{show_number(kg, significant=significant)} kg"


def _bench_query(
    reading: StepReading, *, window: StepWindow, aim: float, agent: Agent, solution_l: float
) -> str:
    return urlencode(
        {
            "substance": agent.active_substance,
            "concentrate_ww": agent.concentrate_strength_ww,
            "density_kg_l": agent.concentrate_density_kg_l or "",
            "present": solution_l,
            "present_strength": reading.judged_value,
            "target": aim,
            "basis": window.basis,
            "units": BENCH_UNITS,
        }
    )


def _correct_strength(
    agent: Agent, *, solution_l: float, present_ww: float, target_ww: float
) -> Batch:
    density = agent.concentrate_density_kg_l
    if density is None and agent.active_substance not in SOLUTES:
        # The mass does not depend on it; the volume is then left out.
        density = 1.0
    return correct_strength(
        concentrate=Concentrate(
            agent.active_substance, agent.concentrate_strength_ww, density_kg_l=density
        ),
        present_l=solution_l,
        present_ww=present_ww,
        target_ww=target_ww,
    )


def what_to_add(
    reading: StepReading,
    *,
    window: StepWindow | None,
    agent: Agent | None,
    solution_l: float | None,
    brewery: Brewery,
) -> WhatToAdd | None:
    """What to add to the solution of a strength reading outside its window, else ``None``.

    ``window`` is the strength's, ``agent`` the step's, ``solution_l`` L in the circuit where it
    is known. Refusals of the sum come back as its ``refusal``, in words. 0 queries.
    """
    outside = (WindowVerdict.BELOW, WindowVerdict.ABOVE)
    if (
        reading.quantity != Quantity.CONCENTRATION
        or window is None
        or agent is None
        or reading.verdict not in outside
        or reading.judged_value is None
    ):
        return None
    aim = aim_of(window)
    if aim is None:
        return None
    shown = show_value(aim[0], quantity=Quantity.CONCENTRATION, basis=window.basis, brewery=brewery)
    found = WhatToAdd(too_strong=reading.verdict == WindowVerdict.ABOVE, aim=f"{shown}, {aim[1]}")
    by_table = agent.active_substance in SOLUTES
    if not by_table and window.basis != Basis.MG_L:
        substance = ActiveSubstance(agent.active_substance).label
        return dataclasses.replace(found, refusal=NO_TABLE.format(substance=substance))
    if solution_l is None:
        return dataclasses.replace(found, ask_volume=True)
    query = _bench_query(reading, window=window, aim=aim[0], agent=agent, solution_l=solution_l)
    found = dataclasses.replace(found, bench_query=query)
    try:
        batch = _correct_strength(
            agent,
            solution_l=solution_l,
            present_ww=by_weight(reading.judged_value, basis=window.basis, agent=agent),
            target_ww=by_weight(aim[0], basis=window.basis, agent=agent),
        )
    except (Infeasible, NotConvertible, OutOfRange) as refused:
        return dataclasses.replace(found, refusal=str(refused))
    return _amounts(found, batch, agent=agent, by_table=by_table, brewery=brewery)


def _amounts(
    found: WhatToAdd, batch: Batch, *, agent: Agent, by_table: bool, brewery: Brewery
) -> WhatToAdd:
    """The amounts of ``batch`` in words."""
    concentrate = not found.too_strong
    kg = batch.concentrate_kg if concentrate else batch.water_kg
    litres: float | None = batch.concentrate_l if concentrate else batch.water_l
    # Of concentrate or of water there is none.
    working = tuple(line for line in batch.working if line.value)
    notes = [AT_20_C if by_table else AS_WATER]
    if concentrate and not by_table and agent.concentrate_density_kg_l is None:
        litres = None
        working = tuple(line for line in working if line.label != "concentrate by volume")
        notes.append("The density in the drum is not on record. Weigh the agent.")
    amount = mass_words(kg)
    if litres is not None:
        amount += f", which is {solution_words(litres, brewery)},"
    warms = ""
    if concentrate and batch.rise_at_most_k is not None:
        kelvin = batch.rise_at_most_k
        rise = kelvin * 1.8 if brewery.temperature_unit == "F" else kelvin
        unit = "°F" if brewery.temperature_unit == "F" else "K"
        warms = f"{show_number(rise, significant=2)} {unit}"
    rule = ""
    if concentrate:
        rule = ORDER_RULE if by_table else INTO_WATER
    return dataclasses.replace(
        found,
        what=agent.name if concentrate else "water",
        kg=kg,
        litres=litres,
        amount=amount,
        becomes=solution_words(batch.solution_l, brewery),
        warms=warms,
        rule=rule,
        notes=tuple(notes),
        working=working,
    )

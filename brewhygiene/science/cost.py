"""What a clean costs: water, agents, heat, effluent and minutes, by step and per hL of vessel.

Every amount is the one that was read, or, where nobody read it, the regime's target; each line
says which. What is neither read nor in the regime is named and left out of the sums, never taken
as nothing.

References
----------
.. [1] Equivalents by IUPAC's standard atomic weights: a load in kg NaOH is the mass of NaOH with
   as many equivalents as the acid or alkali let go.
"""

import dataclasses
from collections.abc import Sequence
from typing import Literal

from brewhygiene.science.errors import OutOfRange, require
from brewhygiene.science.solutions.density import SOLUTES, solution_density_kg_l
from brewhygiene.science.solutions.strength import EQUIVALENT_WEIGHT_G
from brewhygiene.science.tank.heat import heating
from brewhygiene.science.working import WorkingLine, shown

NAOH_G_EQ = EQUIVALENT_WEIGHT_G["NaOH"]
REACTION: dict[str, Literal["alkaline", "acid"]] = {
    "NaOH": "alkaline",
    "KOH": "alkaline",
    "HNO3": "acid",
    "H3PO4": "acid",
}
# Solutes whose heat capacity has a fit; another dilute solution is warmed as water, to 3 %.
_FITTED = ("NaOH", "KOH", "HNO3")

Source = Literal["read", "from the regime", "partly read"]
What = Literal["water", "agent", "heat", "effluent", "time"]


@dataclasses.dataclass(frozen=True)
class Given:
    """An amount as it was read and as the regime plans it, in one unit; either may be missing."""

    read: float | None = None
    planned: float | None = None

    @property
    def value(self) -> float | None:
        """What was read, else what is planned, else ``None``."""
        return self.planned if self.read is None else self.read

    @property
    def source(self) -> Source:
        """Where :attr:`value` comes from."""
        return "from the regime" if self.read is None else "read"


@dataclasses.dataclass(frozen=True)
class AgentUsed:
    """An agent as a step uses it.

    ``substance`` is its active substance, ``concentrate_ww`` % w/w of it as supplied,
    ``strength_ww`` % w/w of it in the solution; ``price_kg`` money per kg of concentrate.
    ``equivalent_g`` (g/eq) and ``reaction`` are needed for a blend that has no single substance.
    """

    name: str
    substance: str
    concentrate_ww: float
    strength_ww: Given
    price_kg: float | None = None
    equivalent_g: float | None = None
    reaction: Literal["alkaline", "acid"] | None = None


@dataclasses.dataclass(frozen=True)
class Shared:
    """A solution that several steps use, made up and topped up once for all of them.

    ``agent_kg`` kg of the concentrate and ``water_l`` L in all, over ``uses`` steps so far.
    """

    agent_kg: float
    water_l: float
    uses: int


@dataclasses.dataclass(frozen=True)
class StepUse:
    """What one step used.

    ``minutes`` min; ``volume_l`` L of water or of solution; ``temperature_c`` °C it was warmed
    to, if at all; ``recovered_share`` of the solution that is kept for the next clean, 0 to 1:
    it counts neither as water nor as used agent nor as effluent, but its heat does. Of a solution
    that is ``shared`` its own share counts instead.
    """

    label: str
    minutes: Given = Given()
    volume_l: Given = Given()
    temperature_c: Given = Given()
    agent: AgentUsed | None = None
    recovered_share: float = 0.0
    shared: Shared | None = None


@dataclasses.dataclass(frozen=True)
class Prices:
    """Money per unit, ``None`` where no price is known, and where water and heat start.

    ``supply_c`` °C of the water; ``heat_efficiency`` share of the bought energy that ends up in
    the solution.
    """

    water_hl: float | None = None
    effluent_hl: float | None = None
    load_kg_naoh: float | None = None
    energy_kwh: float | None = None
    minute: float | None = None
    supply_c: float = 12.0
    heat_efficiency: float = 1.0


@dataclasses.dataclass(frozen=True)
class CostLine:
    """One amount of one step, with its money where there is a price, and where it comes from."""

    step: str
    what: What
    label: str
    amount: float
    unit: str
    money: float | None
    source: Source
    working: WorkingLine


@dataclasses.dataclass(frozen=True)
class CleanCost:
    """A clean's amounts and money, whole and per hL of the vessel.

    ``money`` adds the lines that have a price; ``unpriced`` names what has none, ``missing``
    what was neither read nor planned. Alkaline and acid loads are apart: they take each other
    up only where they meet.
    """

    lines: tuple[CostLine, ...]
    water_hl: float
    agents_kg: dict[str, float]
    heat_kwh: float
    effluent_hl: float
    alkaline_load_kg_naoh: float
    acid_load_kg_naoh: float
    minutes: float
    money: float
    vessel_hl: float
    water_hl_per_hl: float
    heat_kwh_per_hl: float
    minutes_per_hl: float
    money_per_hl: float
    unpriced: tuple[str, ...]
    missing: tuple[str, ...]


def _together(*givens: Given) -> Source:
    sources = {given.source for given in givens}
    return sources.pop() if len(sources) == 1 else "partly read"


def _priced(amount: float, price: float | None) -> float | None:
    return None if price is None else amount * price


def _kg_l(substance: str, strength_ww: float) -> float:
    """Density at 20 °C; that of water, 1 kg/L, for what has no table: sanitisers and blends."""
    if substance not in SOLUTES:
        return 1.0
    return solution_density_kg_l(solute=substance, strength_ww=strength_ww, temperature_c=20.0)


class _Sum:
    """Lines of one clean as they are found."""

    def __init__(self, prices: Prices) -> None:
        self.prices = prices
        self.lines: list[CostLine] = []
        self.missing: list[str] = []
        self.loads = {"alkaline": 0.0, "acid": 0.0}
        self.agents_kg: dict[str, float] = {}

    def add(self, step: StepUse) -> None:
        require("recovered share", step.recovered_share, minimum=0, maximum=1)
        self._time(step)
        volume_l = step.volume_l.value
        if volume_l is None:
            self.missing.append(f"{step.label}: volume")
            if step.agent:
                self.missing.append(f"{step.label}: {step.agent.name}")
            return
        require(f"volume of “{step.label}”", volume_l, unit="L", minimum=0)
        # What is kept was water of an earlier clean, and is that of the next.
        let_go_hl = volume_l * (1 - step.recovered_share) / 100
        formula, numbers = "volume / 100", f"{shown(volume_l)} / 100"
        if step.recovered_share:
            formula = "volume × (1 − recovered) / 100"
            numbers = f"{shown(volume_l)} × (1 − {shown(step.recovered_share)}) / 100"
        if step.shared is not None:
            require("uses of a solution", step.shared.uses, minimum=1)
            require("water of a solution", step.shared.water_l, unit="L", minimum=0)
            let_go_hl = step.shared.water_l / step.shared.uses / 100
            formula = "made up and topped up / uses / 100"
            numbers = f"{shown(step.shared.water_l)} / {step.shared.uses} / 100"
        both: tuple[tuple[What, float | None], ...] = (
            ("water", self.prices.water_hl),
            ("effluent", self.prices.effluent_hl),
        )
        for what, price in both:
            self._line(step, what, what, let_go_hl, "hL", price, step.volume_l.source,
                       formula, numbers)  # fmt: skip
        if step.agent:
            self._agent(step, step.agent, volume_l)
        if step.temperature_c.value is not None:
            self._heat(step, volume_l, step.temperature_c.value)

    def _line(
        self,
        step: StepUse,
        what: What,
        label: str,
        amount: float,
        unit: str,
        price: float | None,
        source: Source,
        formula: str,
        numbers: str,
    ) -> None:
        working = WorkingLine(f"{step.label}, {label}", formula, numbers, amount, unit)
        self.lines.append(
            CostLine(step.label, what, label, amount, unit, _priced(amount, price), source, working)
        )

    def _time(self, step: StepUse) -> None:
        minutes = step.minutes.value
        if minutes is None:
            self.missing.append(f"{step.label}: time")
            return
        require(f"time of “{step.label}”", minutes, unit="min", minimum=0)
        self._line(step, "time", "time", minutes, "min", self.prices.minute, step.minutes.source,
                   "time of the step", shown(minutes))  # fmt: skip

    def _agent(self, step: StepUse, agent: AgentUsed, volume_l: float) -> None:
        if step.shared is not None:
            self._shared_agent(step, agent, step.shared)
            return
        strength_ww = agent.strength_ww.value
        if strength_ww is None:
            self.missing.append(f"{step.label}: strength of {agent.name}")
            return
        require(f"strength of {agent.name} as supplied", agent.concentrate_ww, unit="% w/w",
                minimum=0, maximum=100, above=True)  # fmt: skip
        require(f"strength of {agent.name}", strength_ww, unit="% w/w", minimum=0,
                maximum=agent.concentrate_ww)  # fmt: skip
        density = _kg_l(agent.substance, strength_ww)
        active_kg = volume_l * density * strength_ww / 100 * (1 - step.recovered_share)
        product_kg = active_kg * 100 / agent.concentrate_ww
        source = _together(step.volume_l, agent.strength_ww)
        self.agents_kg[agent.name] = self.agents_kg.get(agent.name, 0.0) + product_kg
        let_go, share = "", ""
        if step.recovered_share:
            let_go, share = " × (1 − recovered)", f" × (1 − {shown(step.recovered_share)})"
        self._line(step, "agent", agent.name, product_kg, "kg", agent.price_kg, source,
                   f"volume × density × strength{let_go} / strength as supplied",
                   f"{shown(volume_l)} × {shown(density)} × {shown(strength_ww)}{share} / "
                   f"{shown(agent.concentrate_ww)}")  # fmt: skip
        self._load(step, agent, active_kg, source)

    def _shared_agent(self, step: StepUse, agent: AgentUsed, shared: Shared) -> None:
        """The share of one use in what a solution was made of."""
        require(f"amount of {agent.name}", shared.agent_kg, unit="kg", minimum=0)
        product_kg = shared.agent_kg / shared.uses
        self.agents_kg[agent.name] = self.agents_kg.get(agent.name, 0.0) + product_kg
        self._line(step, "agent", agent.name, product_kg, "kg", agent.price_kg, "read",
                   "made up and topped up / uses",
                   f"{shown(shared.agent_kg)} / {shared.uses}")  # fmt: skip
        self._load(step, agent, product_kg * agent.concentrate_ww / 100, "read")

    def _load(self, step: StepUse, agent: AgentUsed, active_kg: float, source: Source) -> None:
        """The alkaline or acid load of what goes to the drain of an agent."""
        reaction = agent.reaction or REACTION.get(agent.substance)
        if reaction is None:
            return
        equivalent_g = agent.equivalent_g or EQUIVALENT_WEIGHT_G.get(agent.substance)
        if equivalent_g is None:
            self.missing.append(f"{step.label}: equivalent weight of {agent.name}")
            return
        require("equivalent weight", equivalent_g, unit="g", minimum=1, maximum=500)
        load_kg = active_kg / equivalent_g * NAOH_G_EQ
        self.loads[reaction] += load_kg
        self._line(step, "effluent", f"{reaction} load", load_kg, "kg NaOH equivalents",
                   self.prices.load_kg_naoh, source, "active × 39.9971 / equivalent weight",
                   f"{shown(active_kg)} × {shown(NAOH_G_EQ, significant=6)} / "
                   f"{shown(equivalent_g)}")  # fmt: skip

    def _heat(self, step: StepUse, volume_l: float, to_c: float) -> None:
        require(f"temperature of “{step.label}”", to_c, unit="°C", minimum=0, maximum=99)
        if to_c <= self.prices.supply_c:
            return
        substance, strength = "", Given(read=0.0)
        if step.agent and step.agent.strength_ww.value is not None:
            substance, strength = step.agent.substance, step.agent.strength_ww
        strength_ww = strength.value or 0.0
        mass_kg = volume_l * _kg_l(substance, strength_ww)
        fitted = substance if substance in _FITTED else ""
        try:
            warm = heating(
                solution_kg=mass_kg, from_c=self.prices.supply_c, to_c=to_c, solute=fitted,
                strength_ww=strength_ww if fitted else 0.0, efficiency=self.prices.heat_efficiency,
            )  # fmt: skip
        except OutOfRange as refused:
            raise OutOfRange(f"“{step.label}”: {refused}") from refused
        givens = [step.volume_l, step.temperature_c]
        if substance:
            givens.append(strength)
        self._line(step, "heat", "heat", warm.bought_kwh, "kWh", self.prices.energy_kwh,
                   _together(*givens), "m c ΔT / 3600 / efficiency",
                   f"{shown(mass_kg)} × {shown(warm.heat_capacity_kj_kg_k)} × {shown(warm.rise_k)} "
                   f"/ 3600 / {shown(self.prices.heat_efficiency)}")  # fmt: skip

    def total(self, what: What, unit: str) -> float:
        return sum(line.amount for line in self.lines if line.what == what and line.unit == unit)


def clean_cost(*, steps: Sequence[StepUse], prices: Prices, vessel_hl: float) -> CleanCost:
    """Amounts and money of a clean, by step, whole, and per hL of the vessel.

    ``steps`` in order, with L, min, °C and % w/w as :class:`StepUse` says; ``prices`` money per
    hL, kWh, kg and min, each optional, water at ``supply_c`` 0 to 99 °C; ``vessel_hl`` hL, above
    0. A solution's mass is taken at 20 °C. Sanitisers count no acid or alkaline load. Raises
    :class:`OutOfRange` for an amount that cannot be.

    >>> rinse = StepUse("rinse", minutes=Given(read=5), volume_l=Given(planned=300))
    >>> cost = clean_cost(steps=[rinse], prices=Prices(water_hl=0.5), vessel_hl=30)
    >>> cost.water_hl, cost.money, [line.source for line in cost.lines if line.what == "water"]
    (3.0, 1.5, ['from the regime'])
    """
    require("vessel", vessel_hl, unit="hL", minimum=0, above=True)
    require("temperature of the water", prices.supply_c, unit="°C", minimum=0, maximum=99)
    require("efficiency", prices.heat_efficiency, minimum=0, maximum=1, above=True)
    found = _Sum(prices)
    for step in steps:
        found.add(step)
    water_hl, heat_kwh = found.total("water", "hL"), found.total("heat", "kWh")
    minutes = found.total("time", "min")
    money = sum(line.money for line in found.lines if line.money is not None)
    unpriced = dict.fromkeys(line.label for line in found.lines if line.money is None)
    return CleanCost(
        lines=tuple(found.lines),
        water_hl=water_hl,
        agents_kg=found.agents_kg,
        heat_kwh=heat_kwh,
        effluent_hl=found.total("effluent", "hL"),
        alkaline_load_kg_naoh=found.loads["alkaline"],
        acid_load_kg_naoh=found.loads["acid"],
        minutes=minutes,
        money=money,
        vessel_hl=vessel_hl,
        water_hl_per_hl=water_hl / vessel_hl,
        heat_kwh_per_hl=heat_kwh / vessel_hl,
        minutes_per_hl=minutes / vessel_hl,
        money_per_hl=money / vessel_hl,
        unpriced=tuple(unpriced),
        missing=tuple(found.missing),
    )

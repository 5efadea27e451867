"""The cost of a clean: its steps as entered, at the brewery's prices."""

import dataclasses
from collections.abc import Iterator, Sequence
from typing import Any

from brewhygiene.bench import fields
from brewhygiene.bench.answers import Answer
from brewhygiene.bench.calculator import Calculator
from brewhygiene.bench.calculators.cost_answer import answer_of
from brewhygiene.bench.calculators.heat import HEATS
from brewhygiene.bench.calculators.solutions import DENSITIES, RANGES
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.fields import NumberField
from brewhygiene.regimes.models import ActiveSubstance, Agent, Basis
from brewhygiene.science.cost import AgentUsed, Given, Prices, StepUse, clean_cost
from brewhygiene.science.errors import OutOfRange, require
from brewhygiene.science.solutions.strength import convert_strength
from brewhygiene.science.working import WorkingLine, shown

ALKALIS = ("NaOH", "KOH")
ACIDS = ("HNO3", "H3PO4", "HNO3+H3PO4")
SANITISERS = tuple(key for key, _ in ActiveSubstance.choices if key not in (*ALKALIS, *ACIDS))
MOST_MONEY = 1e6
AGENT = "Optional. Fills in substance, strength, price and the share recovered."
KEPT = "For the next clean. It counts as heat, not as water, agent or effluent."


def _named(keys: Sequence[str]) -> list[tuple[str, str]]:
    return [choice for choice in ActiveSubstance.choices if choice[0] in keys]


def _agent(label: str) -> Any:
    return fields.choice(label, [], required=False, hint=AGENT, wide=True)


def _minutes(label: str, initial: float | None = None) -> Any:
    return fields.number(label, unit="min", high=10_000, initial=initial, required=False)


def _concentrate(label: str, initial: float) -> Any:
    return fields.number(label, unit="% w/w", high=100, initial=initial, required=False)


def _kept(label: str, initial: float) -> Any:
    return fields.number(label, unit="%", high=100, initial=initial, required=False, hint=KEPT)


def _price(label: str, hint: str = "") -> Any:
    return fields.number(label, high=MOST_MONEY, required=False, hint=hint)


def _price_per_volume(label: str) -> fields.PricePerVolumeField:
    return fields.PricePerVolumeField(label=label, high=MOST_MONEY, required=False)


@dataclasses.dataclass(frozen=True)
class _Typed:
    """A step as it was entered, and the working of its volume and strength."""

    use: StepUse
    lines: tuple[WorkingLine, ...] = ()


class Cost(Calculator):
    """Water, agents, heat, effluent, time and money of a clean."""

    slug = "cost"
    title = "Cost of a clean"
    about = "Water, agents, heat, effluent, time and money"
    fieldsets = (
        ("Vessel", ("vessel", "vessel_volume")),
        ("Rinses", ("rinse_flow", "rinse_minutes")),
        (
            "Caustic",
            ("caustic_agent", "caustic_substance", "caustic_concentrate", "caustic_volume",
             "caustic_strength", "basis", "caustic_temperature", "caustic_minutes",
             "caustic_kept", "caustic_price"),
        ),
        (
            "Acid",
            ("acid_agent", "acid_substance", "acid_concentrate", "acid_volume", "acid_strength",
             "acid_temperature", "acid_minutes", "acid_kept", "acid_price", "acid_equivalent"),
        ),
        (
            "Sanitiser",
            ("sanitiser_agent", "sanitiser_substance", "sanitiser_concentrate",
             "sanitiser_volume", "sanitiser_strength", "sanitiser_minutes", "sanitiser_kept",
             "sanitiser_price"),
        ),
        ("Hot water", ("hot_volume", "hot_temperature", "hot_minutes")),
        (
            "Prices and supply",
            ("water_price", "effluent_price", "load_price", "energy_price", "minute_price",
             "supply", "efficiency"),
        ),
    )  # fmt: skip
    optional = frozenset({"Acid", "Sanitiser", "Hot water", "Prices and supply"})
    method = (
        (
            "A step without a volume does not count. Of a recovered solution only the drained "
            "share counts as water, agent and effluent. All of it counts as heat."
        ),
        (
            "A load is given as the NaOH with as many equivalents, by IUPAC's atomic weights. Acid "
            "and alkali are given apart, because they may not meet."
        ),
        DENSITIES,
        HEATS,
    )
    valid_for = (
        RANGES,
        "Solutions are weighed at 20 °C, sanitisers and blends as water, 1 kg/L.",
        "Phosphoric acid, blends and sanitisers are heated as water: to 3 % for dilute ones.",
        "Heat to the steel and through the wall counts only in the efficiency.",
    )
    # In the words of the refusals; the step that was refused is put before each.
    refusal_fields = (
        ("equivalent", ("equivalent",)),
        ("as supplied", ("concentrate",)),
        ("enter the strength", ("concentrate",)),
        ("density table", ("basis",)),
        ("volume", ("volume",)),
        ("time", ("minutes",)),
        ("recovered", ("kept",)),
        ("temperature", ("temperature",)),
        ("strength", ("strength",)),
    )

    vessel = fields.choice(
        "Vessel", [], required=False, hint="Optional. Fills in its volume and that of its circuit.",
        wide=True,
    )  # fmt: skip
    vessel_volume = fields.vessel_volume("Vessel volume", initial=30)
    rinse_flow = fields.flow("Flow of rinses", initial=100, required=False)
    rinse_minutes = _minutes("Time of all rinses", 15)

    caustic_agent = _agent("Caustic agent")
    caustic_substance = fields.choice("Alkali", _named(ALKALIS), initial="NaOH", wide=True)
    caustic_concentrate = _concentrate("Strength of the caustic concentrate", 50)
    caustic_volume = fields.solution("Volume of caustic solution", initial=250, required=False)
    caustic_strength = fields.number("Strength of the caustic solution", high=1000, initial=2,
                                     required=False)  # fmt: skip
    basis = fields.choice(
        "Unit of strength, caustic and acid",
        [choice for choice in Basis.choices if choice[0] in (Basis.WW, Basis.WV)],
        initial=Basis.WW,
    )
    caustic_temperature = fields.temperature("Temperature of the caustic", initial=75,
                                             required=False,
                                             hint="Optional. If blank, not heated.")  # fmt: skip
    caustic_minutes = _minutes("Time of the caustic", 30)
    caustic_kept = _kept("Caustic recovered", 0)
    caustic_price = _price("Price of the caustic")

    acid_agent = _agent("Acid agent")
    acid_substance = fields.choice("Acid", _named(ACIDS), initial="HNO3", wide=True)
    acid_concentrate = _concentrate("Strength of the acid concentrate", 53)
    acid_volume = fields.solution("Volume of acid solution", required=False,
                                  hint="Optional. If blank, no acid.")  # fmt: skip
    acid_strength = fields.number(
        "Strength of the acid solution", high=1000, initial=1, required=False
    )
    acid_temperature = fields.temperature("Temperature of the acid", initial=None, required=False,
                                          hint="Optional. If blank, not heated.")  # fmt: skip
    acid_minutes = _minutes("Time of the acid", 20)
    acid_kept = _kept("Acid recovered", 0)
    acid_price = _price("Price of the acid")
    acid_equivalent = fields.number(
        "Equivalent weight of a blend", unit="g", high=500, required=False,
        hint="Optional. See its label. If blank, the load is not counted.",
    )  # fmt: skip

    sanitiser_agent = _agent("Sanitiser agent")
    sanitiser_substance = fields.choice("Active substance", _named(SANITISERS), initial="PAA",
                                        wide=True)  # fmt: skip
    sanitiser_concentrate = _concentrate("Strength of the sanitiser concentrate", 15)
    sanitiser_volume = fields.solution("Volume of sanitiser solution", required=False,
                                       hint="Optional. If blank, no sanitiser.")  # fmt: skip
    sanitiser_strength = fields.number("Strength of the sanitiser solution", unit="mg/L", high=1e6,
                                       initial=150, required=False)  # fmt: skip
    sanitiser_minutes = _minutes("Time of the sanitiser", 10)
    sanitiser_kept = _kept("Sanitiser recovered", 0)
    sanitiser_price = _price("Price of the sanitiser")

    hot_volume = fields.solution("Volume of hot water", required=False,
                                 hint="Optional. If blank, none.")  # fmt: skip
    hot_temperature = fields.temperature("Temperature of the hot water", initial=85, required=False)
    hot_minutes = _minutes("Time of the hot water", 20)

    water_price = _price_per_volume("Price of water")
    effluent_price = _price_per_volume("Price of effluent, by volume")
    load_price = _price("Price of effluent, by load")
    energy_price = _price("Price of energy", "As bought.")
    minute_price = _price("Price of time")
    supply = fields.temperature("Temperature of the water supply", initial=12)
    efficiency = fields.number(
        "Heating efficiency", unit="%", low=1, high=100, initial=100,
        hint="Share of the energy bought that reaches the solution.",
    )  # fmt: skip

    # -- The brewery's own ----------------------------------------------------------------------

    def set_defaults(self, brewery: Brewery) -> None:
        self.money = brewery.currency
        for name, value in (
            ("load_price", brewery.load_price_kg_naoh),
            ("energy_price", brewery.energy_price_kwh),
            ("minute_price", brewery.minute_price),
            ("efficiency", brewery.heat_efficiency * 100),
            ("water_price", brewery.water_price_hl),
            ("effluent_price", brewery.effluent_price_hl),
            ("supply", brewery.supply_water_c),
        ):
            self.fields[name].initial = value
        for field in self.fields.values():
            if isinstance(field, fields.PricePerVolumeField):
                field.currency = self.money
        for name, unit in (
            ("caustic_price", "kg"), ("acid_price", "kg"), ("sanitiser_price", "kg"),
            ("load_price", "kg as NaOH"), ("energy_price", "kWh"), ("minute_price", "min"),
        ):  # fmt: skip
            priced = self.fields[name]
            assert isinstance(priced, NumberField)
            priced.unit = priced.widget.unit = f"{self.money} per {unit}"  # type: ignore[attr-defined]

    @classmethod
    def agent_fields(cls) -> dict[str, list[str]]:
        return {
            f"{step}_agent": cls.choices_of(f"{step}_substance")
            for step in ("caustic", "acid", "sanitiser")
        }

    def from_agent(self, agent: Agent, *, field: str) -> dict[str, Any]:
        step = field.removesuffix("_agent")
        filled = {
            f"{step}_substance": agent.active_substance,
            f"{step}_concentrate": agent.concentrate_strength_ww,
            f"{step}_kept": agent.recovered_share * 100,
            f"{step}_price": agent.price_kg,
        }
        if step == "acid":
            filled["acid_equivalent"] = agent.equivalent_weight_g
        return filled

    def from_vessel(self, vessel: Vessel) -> dict[str, Any]:
        filled: dict[str, Any] = {"vessel_volume": vessel.volume_hl}
        if vessel.solution_l is not None:
            # Only of steps that are there: an empty volume leaves a step out.
            for name in ("caustic_volume", "acid_volume", "sanitiser_volume", "hot_volume"):
                if self.data.get(name):
                    filled[name] = vessel.solution_l
        return filled

    # -- The steps ------------------------------------------------------------------------------

    def _rinses(self, given: dict[str, Any]) -> _Typed:
        flow, minutes = given["rinse_flow"], given["rinse_minutes"]
        if flow is None or minutes is None:
            return _Typed(StepUse("rinses", Given(minutes), Given()))
        litres = flow * minutes
        line = WorkingLine(
            "volume", "flow × time", f"{shown(flow)} × {shown(minutes)}", litres, "L"
        )
        return _Typed(StepUse("rinses", Given(minutes), Given(litres)), (line,))

    def _by_weight(
        self, given: dict[str, Any], step: str
    ) -> tuple[float | None, WorkingLine | None]:
        value = given[f"{step}_strength"]
        basis = Basis.MG_L if step == "sanitiser" else given["basis"]
        if value is None or basis == Basis.WW:
            return value, None
        if step == "sanitiser":
            # Beyond it is no longer water, and there is no table of it.
            require("strength of the sanitiser", value, unit="mg/L", minimum=0, maximum=5000)
        strength_ww = convert_strength(
            value=value, basis=basis, to_basis="ww", substance=given[f"{step}_substance"]
        )
        return strength_ww, WorkingLine(
            "strength by weight", "given ÷ density", f"{shown(value)} {Basis(basis).label}",
            strength_ww, "% w/w",
        )  # fmt: skip

    def _solution(self, given: dict[str, Any], step: str) -> _Typed:
        strength_ww, line = self._by_weight(given, step)
        substance = given[f"{step}_substance"]
        if given[f"{step}_concentrate"] is None:
            raise OutOfRange(f"Enter the strength of the {step} concentrate.")
        blend = substance == ActiveSubstance.HNO3_H3PO4
        agent = AgentUsed(
            name=f"{step} concentrate",
            substance=substance,
            concentrate_ww=given[f"{step}_concentrate"],
            strength_ww=Given(strength_ww),
            price_kg=given[f"{step}_price"],
            equivalent_g=given["acid_equivalent"] if blend else None,
            reaction="acid" if blend else None,
        )
        return _Typed(
            StepUse(
                label=step,
                minutes=Given(given[f"{step}_minutes"]),
                volume_l=Given(given[f"{step}_volume"]),
                temperature_c=Given(given.get(f"{step}_temperature")),
                agent=agent,
                recovered_share=(given[f"{step}_kept"] or 0) / 100,
            ),
            () if line is None else (line,),
        )

    def _steps(self, given: dict[str, Any], prices: Prices) -> Iterator[_Typed]:
        """Each step that was entered, computed alone so that a refusal is known to be its."""
        for step in ("rinse", "caustic", "acid", "sanitiser", "hot"):
            self._at = step
            if step == "rinse":
                if given["rinse_flow"] is None and given["rinse_minutes"] is None:
                    continue
                typed = self._rinses(given)
            elif given[f"{step}_volume"] is None:
                continue
            elif step == "hot":
                typed = _Typed(
                    StepUse("hot water", Given(given["hot_minutes"]), Given(given["hot_volume"]),
                            Given(given["hot_temperature"]))
                )  # fmt: skip
            else:
                typed = self._solution(given, step)
            clean_cost(steps=[typed.use], prices=prices, vessel_hl=1)
            yield typed
        self._at = ""

    _at = ""

    def _field_of(self, refusal: Exception) -> str | None:
        about = str(refusal).lower()
        if not self._at:
            if "of the water" in about:
                return "supply"
            return "vessel_volume" if "vessel" in about else None
        for words, parts in self.refusal_fields:
            if words in about:
                names = [part if part == "basis" else f"{self._at}_{part}" for part in parts]
                return next((name for name in names if name in self.fields), None)
        return None

    # -- The calculation ------------------------------------------------------------------------

    def calculate(self, given: dict[str, Any]) -> Answer:
        prices = Prices(
            water_hl=given["water_price"],
            effluent_hl=given["effluent_price"],
            load_kg_naoh=given["load_price"],
            energy_kwh=given["energy_price"],
            minute=given["minute_price"],
            supply_c=given["supply"],
            heat_efficiency=given["efficiency"] / 100,
        )
        clean_cost(steps=(), prices=prices, vessel_hl=given["vessel_volume"])
        steps = list(self._steps(given, prices))
        if not steps:
            raise OutOfRange("Enter at least one step: a volume, or the flow and time of rinses.")
        cost = clean_cost(
            steps=[typed.use for typed in steps], prices=prices, vessel_hl=given["vessel_volume"]
        )
        return answer_of(
            cost, {t.use.label: t.lines for t in steps}, site=self.site, currency=self.money
        )

"""The steps of a clean as the sum of its cost takes them, each amount with its source.

An amount is the one read, else the regime's; the volume of a solution is the vessel's set-up. No
queries but for what solutions of a tank were made of.
"""

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.words import counted
from brewhygiene.regimes.models import ActiveSubstance, Quantity, Step, StepKind
from brewhygiene.science.cost import AgentUsed, Given, Prices, Shared, StepUse
from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.strength import NotConvertible
from brewhygiene.skids.queries import solutions, states_of
from brewhygiene.turnarounds.advice.what_to_add import (
    aim_of,
    by_weight,
    mass_words,
    solution_words,
)
from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.progress import StepProgress, minutes_of, standing_readings

READ, REGIME, SET_UP = "read", "from the regime", "from the set-up"
# Filled or circulated with what the circuit holds, whatever the flow.
FILLED = frozenset({StepKind.CAUSTIC, StepKind.ACID, StepKind.SANITISER, StepKind.HOT_WATER})
NOT_SHARED: Mapping[int, tuple[Shared, str]] = {}
RINSED = frozenset({StepKind.PRE_RINSE, StepKind.RINSE})


@dataclasses.dataclass(frozen=True)
class Taken:
    """A step as the sum takes it, with where each of its amounts is from."""

    item: StepProgress
    use: StepUse
    volume_from: str
    note: str = ""
    not_convertible: str = ""


def _planned(step: Step, quantity: str) -> float | None:
    """What a step aims for by its regime: the target, else the least."""
    window = step.window(quantity)
    if window is None:
        return None
    return window.target if window.target is not None else window.minimum


def _read(records: Iterable[StepRecord], quantity: str) -> list[float]:
    """The standing readings of a quantity in the attempts of a step."""
    return [
        r.value for record in records for r in standing_readings(record) if r.quantity == quantity
    ]


def _minutes(ran: Sequence[StepRecord]) -> float | None:
    """Minutes of all attempts that ended; one that prolongs another covers it."""
    prolonged = {record.extends_id for record in ran if record.extends_id}
    whole = [r for r in ran if r.pk not in prolonged and r.ended_at is not None]
    if not whole:
        return None
    return sum(minutes_of(r, until=r.ended_at) for r in whole if r.ended_at is not None)


def _volume(item: StepProgress, vessel: Vessel, minutes: Given, flow: Given) -> tuple[Given, str]:
    """Litres of a step, and where they are from."""
    if item.step.kind in FILLED:
        return Given(planned=vessel.solution_l), SET_UP
    if item.step.kind not in RINSED:
        return Given(planned=0.0), REGIME
    if flow.read is not None and minutes.read is not None:
        return Given(read=flow.read * minutes.read), "flow × time, both read"
    if flow.value is None or minutes.value is None:
        return Given(), ""
    time = READ if minutes.read is not None else REGIME
    return Given(planned=flow.value * minutes.value), f"flow {flow.source}, time {time}"


def _agent(item: StepProgress, ran: Sequence[StepRecord]) -> tuple[AgentUsed | None, str]:
    """The agent as the step used it, and why a strength of it could not be turned."""
    agent = item.step.agent
    if agent is None or item.step.kind not in FILLED:
        return None, ""
    readings = [
        r
        for record in ran
        for r in standing_readings(record)
        if r.quantity == Quantity.CONCENTRATION
    ]
    read = planned = None
    refused = ""
    window = item.step.window(Quantity.CONCENTRATION)
    aim = aim_of(window) if window else None
    try:
        if readings:
            read = by_weight(readings[-1].value, basis=readings[-1].basis, agent=agent)
    except (NotConvertible, OutOfRange) as error:
        refused = str(error)
    try:
        if aim is not None and window is not None:
            planned = by_weight(aim[0], basis=window.basis, agent=agent)
    except (NotConvertible, OutOfRange) as error:
        refused = refused or str(error)
    blend = agent.active_substance == ActiveSubstance.HNO3_H3PO4
    used = AgentUsed(
        name=agent.name,
        substance=agent.active_substance,
        concentrate_ww=agent.concentrate_strength_ww,
        strength_ww=Given(read=read, planned=planned),
        price_kg=agent.price_kg,
        equivalent_g=agent.equivalent_weight_g,
        reaction="acid" if blend else None,
    )
    return used, refused if read is None else ""


def _note(step: Step, ran: Sequence[StepRecord], volume: Given, brewery: Brewery) -> str:
    """What is assumed of a step's volume."""
    if step.kind not in FILLED:
        return ""
    notes = []
    repeats = sum(record.extends_id is None for record in ran)
    if step.kind == StepKind.HOT_WATER and volume.value is not None:
        filling = solution_words(volume.value, brewery)
        notes.append(
            f"Counted as one filling of the circuit, {filling}. More may have run through."
        )
        if repeats > 1:
            notes.append(f"Run {repeats} times. One filling is counted.")
    elif repeats > 1:
        notes.append(f"Run {repeats} times. One solution is counted.")
    return " ".join(notes)


def shares_of(
    cleans: Iterable[Clean], *, now: datetime, brewery: Brewery
) -> dict[int, tuple[Shared, str]]:
    """What each solution that cleans drew was made of, over its uses so far, and that in words.

    By the solution's key, with its dump or ``now``. One of which not every amount is on record is
    left out. At most 7 queries, none where nothing was drawn from a tank.
    """
    keys = {
        record.solution_id
        for clean in cleans
        for record in clean.step_records.all()
        if record.solution_id is not None
    }
    if not keys:
        return {}
    found = {}
    for state in states_of(solutions().filter(pk__in=keys), now=now):
        kg, uses = state.added_kg, state.uses
        if kg is None or not uses:
            continue
        litres = state.solution.volume_l + sum(one.water_l or 0.0 for one in state.top_ups)
        open_words = " so far. At least this, while it is in use"
        words = (
            f"Drawn from {state.tank.name}: {solution_words(litres, brewery)} and "
            f"{mass_words(kg)} of {state.solution.agent.name}, shared over "
            f"{counted(uses, 'use')}{open_words if state.solution.dumped_at is None else ''}."
        )
        found[state.solution.pk] = (Shared(agent_kg=kg, water_l=litres, uses=uses), words)
    return found


def taken_of(
    item: StepProgress,
    vessel: Vessel,
    brewery: Brewery,
    shares: Mapping[int, tuple[Shared, str]],
) -> Taken | None:
    """A step that was run, or ``None``; ``shares`` as of :func:`shares_of`."""
    ran = [record for record in item.attempts if not record.left_out]
    if not ran:
        return None
    step = item.step
    minutes = Given(read=_minutes(ran), planned=_planned(step, Quantity.TIME_MIN))
    flows = _read(ran, Quantity.FLOW_L_MIN)
    flow = Given(
        read=sum(flows) / len(flows) if flows else None,
        planned=_planned(step, Quantity.FLOW_L_MIN),
    )
    volume, volume_from = _volume(item, vessel, minutes, flow)
    planned_c = _planned(step, Quantity.TEMPERATURE_C)
    temperature = Given()
    if planned_c is not None and planned_c > brewery.supply_water_c:
        # Only what the regime wants warm is heated; tap water is read above its usual too.
        degrees = _read(ran, Quantity.TEMPERATURE_C)
        temperature = Given(read=max(degrees) if degrees else None, planned=planned_c)
    used, refused = _agent(item, ran)
    shared, shared_words = shares.get(ran[-1].solution_id or 0, (None, ""))
    return Taken(
        item=item,
        use=StepUse(
            label=str(step),
            minutes=minutes,
            volume_l=volume,
            temperature_c=temperature,
            agent=used,
            recovered_share=step.agent.recovered_share if used and step.agent else 0.0,
            shared=shared,
        ),
        volume_from=volume_from,
        note=shared_words or _note(step, ran, volume, brewery),
        not_convertible=refused,
    )


def prices_of(brewery: Brewery) -> Prices:
    """The brewery's prices as the sum takes them. 0 queries."""
    return Prices(
        water_hl=brewery.water_price_hl,
        effluent_hl=brewery.effluent_price_hl,
        load_kg_naoh=brewery.load_price_kg_naoh,
        energy_kwh=brewery.energy_price_kwh,
        minute=brewery.minute_price,
        supply_c=brewery.supply_water_c,
        heat_efficiency=brewery.heat_efficiency,
    )

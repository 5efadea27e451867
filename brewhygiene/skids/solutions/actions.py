"""Actions on solutions: made up, read, topped up, dumped; and a rinse of what contained them."""

import dataclasses
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.style import digits, told
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.measures import PLAUSIBLE, UNIT_OF
from brewhygiene.regimes.models import Agent, Basis, Quantity
from brewhygiene.science.tank.against_supply import Judgement, same_conductivity, same_ph
from brewhygiene.skids.fit import refuse_meeting_in_tank, refuse_unfit_tank
from brewhygiene.skids.models import (
    DumpReason,
    GearRinse,
    Skid,
    Solution,
    SolutionCheck,
    SolutionTank,
    SolutionTopUp,
)
from brewhygiene.skids.queries import agents_in_tank
from brewhygiene.skids.solutions.titration import Titrated, TwoEndPoints, titrated

# A tank may be a little larger than its usual volume says.
MOST_OVERFULL = 1.1
MOST_ADDED_KG = 5000.0
# How strong a solution was made up: as it was read, or as its amounts give.
MADE_UP_BY = (ValueSource.READ, ValueSource.CALCULATED)


def _check_strength(strength: float, basis: str, *, least: float | None = None) -> None:
    """Refuse what cannot be; ``least`` where a strength may be none at all."""
    if basis not in Basis.values:
        raise Refusal("Choose a basis: % w/w, % w/v, % v/v or mg/L.", field="basis")
    most = PLAUSIBLE[basis][1]
    if strength > most or strength < 0 or (strength == 0 and least is None):
        with told():
            raise Refusal(
                f"{show_number(strength)} {UNIT_OF[basis]} is not possible. Enter above 0, up to "
                f"{show_number(most)} {UNIT_OF[basis]}.",
                field="strength",
                code="implausible",
            )


def _check_added(amount_kg: float | None, agent_lot: str) -> None:
    if amount_kg is None:
        return
    if not 0 < amount_kg <= MOST_ADDED_KG:
        with told():
            raise Refusal(
                f"Enter an amount above 0 and up to {digits(MOST_ADDED_KG, 'g')} kg.",
                field="amount_kg",
                code="no_amount",
            )
    if not agent_lot.strip():
        raise Refusal("Enter the lot of the agent.", field="agent_lot", code="no_lot")


def _lock_tank(tank: SolutionTank) -> SolutionTank:
    return (
        SolutionTank.objects.select_for_update(of=("self",)).select_related("skid").get(pk=tank.pk)
    )


def _lock_standing(solution: Solution) -> Solution:
    """The solution, locked; refused once it was dumped."""
    locked = (
        Solution.objects.select_for_update(of=("self",))
        .select_related("tank__skid", "agent", "dumped_by")
        .get(pk=solution.pk)
    )
    if locked.dumped_at is not None:
        raise Refusal(
            f"{locked.dumped_by} has dumped this solution. Open the tank again.", code="dumped"
        )
    return locked


@action("make up solution")
def make_up(
    *,
    by: Actor,
    tank: SolutionTank,
    agent: Agent,
    agent_lot: str,
    volume_l: float,
    strength: float,
    basis: str,
    source: ValueSource,
    amount_kg: float | None = None,
) -> Recorded[Solution]:
    """Record that a tank was filled with a fresh solution. What it contained was dumped before.

    ``source`` says whether the strength was read, or is what the amounts give.
    """
    user = require(by, "work_cellar")
    tank = _lock_tank(tank)
    if not tank.active or not tank.skid.active:
        raise Refusal(f"{tank.name} is retired. Choose another tank.", code="retired")
    if tank.made_solutions.filter(dumped_at__isnull=True).exists():
        raise Refusal(
            f"{tank.name} still contains a solution. Record that it was dumped first.",
            code="not_empty",
        )
    if not agent.active:
        raise Refusal(f"{agent.name} is retired. Choose another agent.", field="agent")
    if not agent_lot.strip():
        raise Refusal("Enter the lot of the agent.", field="agent_lot", code="no_lot")
    if source not in MADE_UP_BY:
        raise Refusal("Choose how the strength is known.", field="source", code="no_source")
    _check_strength(strength, basis)
    _check_added(amount_kg, agent_lot)
    most_l = tank.volume_hl * 100 * MOST_OVERFULL
    if not 0 < volume_l <= most_l:
        with told():
            raise Refusal(
                f"Enter a volume above 0, up to {show_number(most_l)} L: {tank.name} takes "
                f"{show_number(tank.volume_hl * 100)} L.",
                field="volume_l",
                code="too_much",
            )
    refuse_unfit_tank(tank, agent, strength=strength, basis=basis)
    refuse_meeting_in_tank(tank, agent, agents_in_tank(tank))
    made = Solution.objects.create(
        tank=tank,
        agent=agent,
        agent_lot=agent_lot.strip()[:40],
        amount_kg=amount_kg,
        volume_l=volume_l,
        strength=strength,
        basis=basis,
        source=source,
        made_at=by.now,
        made_by=user,
    )
    return Recorded(
        made,
        {
            "tank": tank.name,
            "agent": agent.name,
            "agent_lot": made.agent_lot,
            "amount_kg": amount_kg,
            "volume_l": volume_l,
            "strength": strength,
            "basis": basis,
            "source": source,
        },
        aggregate=made,
    )


@dataclasses.dataclass(frozen=True)
class ReadStraight:
    """A strength as a test kit or a meter shows it."""

    strength: float
    basis: str


@action("check solution")
def check_solution(
    *,
    by: Actor,
    solution: Solution,
    strength: ReadStraight | TwoEndPoints | None = None,
    temperature_c: float | None = None,
    soiled: bool | None = None,
) -> Recorded[SolutionCheck]:
    """Record what was read or seen of a solution in its tank: at least one thing."""
    user = require(by, "work_cellar")
    solution = _lock_standing(solution)
    if strength is None and temperature_c is None and soiled is None:
        raise Refusal(
            "Enter what was read: the strength, the temperature, or whether soil is seen.",
            code="nothing",
        )
    low, high = PLAUSIBLE[Quantity.TEMPERATURE_C]
    if temperature_c is not None and not low <= temperature_c <= high:
        with told():
            raise Refusal(
                f"{show_number(temperature_c)} °C is not possible.",
                field="temperature_c",
                code="implausible",
            )
    found, kept = _strength_of(solution, strength)
    check = SolutionCheck.objects.create(
        solution=solution,
        strength=found.strength_wv if found else kept.strength if kept else None,
        basis=Basis.WV if found else kept.basis if kept else "",
        carbonate_wv=found.carbonate_wv if found else None,
        carbonate_percent=found.carbonate_percent if found else None,
        temperature_c=temperature_c,
        soiled=soiled,
        titration=strength.as_kept() if isinstance(strength, TwoEndPoints) else None,
        source=ValueSource.READ,
        taken_at=by.now,
        taken_by=user,
    )
    values: dict[str, Any] = {
        "tank": solution.tank.name,
        "strength": check.strength,
        "basis": check.basis,
        "carbonate_wv": check.carbonate_wv,
        "carbonate_percent": check.carbonate_percent,
        "temperature_c": temperature_c,
        "soiled": soiled,
        "titration": check.titration,
        "source": check.source,
    }
    return Recorded(check, values, aggregate=solution)


def _strength_of(
    solution: Solution, strength: ReadStraight | TwoEndPoints | None
) -> tuple[Titrated | None, ReadStraight | None]:
    """What a titration gives, or what was read straight; each ``None`` where it is the other."""
    if isinstance(strength, TwoEndPoints):
        burette_ml = Brewery.current().burette_ml
        found = titrated(strength, agent=solution.agent, burette_ml=burette_ml)
        if found.strength_wv > PLAUSIBLE[Basis.WV][1]:
            with told():
                raise Refusal(
                    f"This gives {show_number(found.strength_wv)} % w/v, which is not possible. "
                    "Check the volumes.",
                    field="first_ml",
                    code="implausible",
                )
        return found, None
    if strength is not None:
        _check_strength(strength.strength, strength.basis, least=0)
    return None, strength


@action("top up solution")
def top_up(
    *,
    by: Actor,
    solution: Solution,
    amount_kg: float | None = None,
    agent_lot: str = "",
    water_l: float | None = None,
) -> Recorded[SolutionTopUp]:
    """Record agent or water that was added to a solution in its tank."""
    user = require(by, "work_cellar")
    solution = _lock_standing(solution)
    if amount_kg is None and water_l is None:
        raise Refusal("Enter how much was added.", field="amount_kg", code="no_amount")
    _check_added(amount_kg, agent_lot)
    most_l = solution.tank.volume_hl * 100 * MOST_OVERFULL
    if water_l is not None and not 0 < water_l <= most_l:
        with told():
            raise Refusal(
                f"Enter a volume above 0, up to {show_number(most_l)} L.",
                field="water_l",
                code="too_much",
            )
    added = SolutionTopUp.objects.create(
        solution=solution,
        amount_kg=amount_kg,
        agent_lot=agent_lot.strip()[:40] if amount_kg is not None else "",
        water_l=water_l,
        added_at=by.now,
        added_by=user,
    )
    return Recorded(
        added,
        {
            "tank": solution.tank.name,
            "agent": solution.agent.name,
            "amount_kg": amount_kg,
            "agent_lot": added.agent_lot,
            "water_l": water_l,
        },
        aggregate=solution,
    )


@action("dump solution")
def dump(*, by: Actor, solution: Solution, reason: str, note: str = "") -> Recorded[Solution]:
    """Record that a tank was emptied to the drain. What it contained is not gone by that."""
    user = require(by, "work_cellar")
    solution = _lock_standing(solution)
    if reason not in DumpReason.values:
        raise Refusal("Choose why it was dumped.", field="reason", code="no_reason")
    if reason == DumpReason.OTHER and not note.strip():
        raise Refusal("Enter why it was dumped.", field="note", code="no_reason")
    solution.dumped_at = by.now
    solution.dumped_by = user
    solution.dump_reason = reason
    solution.dump_note = note.strip()[:200]
    solution.save(update_fields=["dumped_at", "dumped_by", "dump_reason", "dump_note"])
    return Recorded(
        solution,
        {"tank": solution.tank.name, "reason": reason, "note": solution.dump_note},
        aggregate=solution,
    )


JUDGED_BY = (Quantity.PH, Quantity.CONDUCTIVITY_MS_CM)


@action("record rinse of gear")
def record_rinse(
    *,
    by: Actor,
    gear: Skid | SolutionTank,
    quantity: str,
    value: float,
    supply_value: float,
) -> Recorded[GearRinse]:
    """Record that a skid, a hose or an empty tank was rinsed, proved beside the supply water.

    What does not show that the rinse reached its end is refused: it would prove nothing.
    """
    user = require(by, "work_cellar")
    if quantity not in JUDGED_BY:
        raise Refusal("Choose pH or conductivity.", field="quantity")
    low, high = PLAUSIBLE[quantity]
    for field, number in (("value", value), ("supply_value", supply_value)):
        if not low <= number <= high:
            with told():
                raise Refusal(
                    f"{show_number(number)} is not possible. Enter {digits(low, 'g')} to "
                    f"{digits(high, 'g')}.",
                    field=field,
                    code="implausible",
                )
    if isinstance(gear, SolutionTank):
        gear = _lock_tank(gear)
        if gear.made_solutions.filter(dumped_at__isnull=True).exists():
            raise Refusal(
                f"{gear.name} still contains a solution. Record that it was dumped first.",
                code="not_empty",
            )
    found = _as_read(quantity, value, supply_value)
    if found.says != "met":
        field = "supply_value" if found.says == "question_supply" else "value"
        raise Refusal(
            f"This does not show that the rinse is done: {found.why}. Rinse on and read again.",
            field=field,
            code="end_contradicted",
        )
    rinse = GearRinse.objects.create(
        skid=gear if isinstance(gear, Skid) else None,
        tank=gear if isinstance(gear, SolutionTank) else None,
        quantity=quantity,
        value=value,
        supply_value=supply_value,
        source=ValueSource.READ,
        rinsed_at=by.now,
        recorded_by=user,
    )
    return Recorded(
        rinse,
        {
            "gear": gear.name,
            "quantity": quantity,
            "value": value,
            "supply_value": supply_value,
            "source": rinse.source,
        },
        aggregate=gear,
    )


def _as_read(quantity: str, value: float, supply_value: float) -> Judgement:
    if quantity == Quantity.PH:
        return same_ph(value, supply_ph=supply_value)
    return same_conductivity(value, supply_ms_cm=supply_value)

"""What happened to a solution, told as lines; and what it cost. 0 queries."""

import dataclasses
from datetime import datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.sources import source_words
from brewhygiene.quantities.style import digits
from brewhygiene.quantities.units import LABELS, convert
from brewhygiene.regimes.measures import UNIT_OF, site_label, to_site
from brewhygiene.regimes.models import Quantity
from brewhygiene.skids.models import Solution, SolutionCheck, SolutionTopUp
from brewhygiene.skids.questions import Use
from brewhygiene.skids.state import SolutionState


@dataclasses.dataclass(frozen=True)
class Event:
    """One thing that happened, with its mark: a verdict where it needs one, else a plain ring.

    ``clean`` and ``step`` are the keys of the step that used it.
    """

    at: datetime
    what: str
    line: str
    who: str
    verdict: str = ""
    clean: int = 0
    step: int = 0

    @property
    def flag(self) -> str:
        """The code of its shape."""
        return self.verdict or "empty"

    @property
    def flag_kind(self) -> str:
        return "verdict" if self.verdict else "status"


def volume_words(litres: float, brewery: Brewery) -> str:
    """A volume of solution in the site's unit."""
    shown = convert(litres, "L", brewery.solution_unit)
    return f"{show_number(shown, significant=3)} {LABELS[brewery.solution_unit]}"


def _strength(value: float, basis: str) -> str:
    return f"{show_number(value)} {UNIT_OF[basis]}"


def made_words(made: Solution, brewery: Brewery) -> str:
    """As '400 L at 2 % w/w (read), 16 kg of Caustic, lot C-1'."""
    amount = f"{show_number(made.amount_kg)} kg of " if made.amount_kg is not None else ""
    return (
        f"{volume_words(made.volume_l, brewery)} at {_strength(made.strength, made.basis)} "
        f"({source_words(made.source)}), {amount}{made.agent.name}, lot {made.agent_lot}"
    )


def check_words(check: SolutionCheck, brewery: Brewery) -> str:
    """As '1.7 % w/v free, carbonate 0.8 % w/v, 26 % of the alkalinity (read)'."""
    parts = []
    if check.strength is not None:
        free = " free" if check.carbonate_percent is not None else ""
        parts.append(f"{_strength(check.strength, check.basis)}{free}")
    if check.carbonate_percent is not None and check.carbonate_wv is not None:
        parts.append(f"carbonate {show_number(check.carbonate_wv, significant=2)} % w/v")
        share = show_number(check.carbonate_percent, significant=2)
        parts.append(f"{share} % of the alkalinity")
    if check.temperature_c is not None:
        quantity = Quantity.TEMPERATURE_C
        shown = to_site(check.temperature_c, quantity=quantity, brewery=brewery)
        parts.append(
            f"{show_number(shown or 0.0)} {site_label(quantity=quantity, brewery=brewery)}"
        )
    if check.soiled is not None:
        parts.append("soil seen" if check.soiled else "no soil seen")
    return f"{', '.join(parts)} ({check.source_words})"


def _top_up_words(added: SolutionTopUp, agent: str, brewery: Brewery) -> str:
    parts = []
    if added.amount_kg is not None:
        parts.append(f"{show_number(added.amount_kg)} kg of {agent}, lot {added.agent_lot}")
    if added.water_l is not None:
        parts.append(f"{volume_words(added.water_l, brewery)} of water")
    return " and ".join(parts)


def _use_event(use: Use) -> Event:
    if not use.drew:
        line = f"{use.vessel}, {use.step_words}: {use.carries}"
        return Event(
            use.ended_at or use.started_at, "Took back what must be dumped", line, use.by,
            "no", use.clean, use.step,
        )  # fmt: skip
    parts = [f"{use.vessel}, {use.step_words}"]
    parts += [f"{_strength(read.value, read.basis)} ({source_words(read.source)})"
              for read in use.strengths]  # fmt: skip
    if use.added_kg:
        parts.append(f"topped up with {show_number(use.added_kg)} kg")
    if use.outflow:
        parts.append(use.outflow)
    if use.reason:
        parts.append(f"past its dump rule: {use.reason}")
    if use.carries:
        parts.append(use.carries)
    what = "Used" if use.counts else "Used on"
    verdict = "no" if use.carries else "explain" if use.reason else ""
    line = ", ".join(parts)
    return Event(use.started_at, what, line, use.by, verdict, use.clean, use.step)


def history_of(state: SolutionState, brewery: Brewery) -> list[Event]:
    """Everything that happened to a solution, the latest first."""
    made = state.solution
    events = [Event(made.made_at, "Made up", made_words(made, brewery), str(made.made_by))]
    for check in state.checks:
        what = "Titrated" if check.titrated else "Read"
        if check.strength is None:
            what = "Looked at" if check.soiled is not None else "Temperature read"
        verdict = "no" if check.soiled else ""
        line = check_words(check, brewery)
        events.append(Event(check.taken_at, what, line, str(check.taken_by), verdict))
    for added in state.top_ups:
        line = _top_up_words(added, made.agent.name, brewery)
        events.append(Event(added.added_at, "Topped up", line, str(added.added_by)))
    events += [_use_event(use) for use in state.used]
    if made.dumped_at is not None:
        note = f": {made.dump_note}" if made.dump_note else ""
        line = f"{made.get_dump_reason_display()}{note}"
        events.append(Event(made.dumped_at, "Dumped", line, str(made.dumped_by)))
    return sorted(events, key=lambda event: event.at)[::-1]


@dataclasses.dataclass(frozen=True)
class SolutionCost:
    """What a solution cost so far: its make-up and its top-ups; ``missing`` names what is unknown.

    It is 'at least' while the solution is in use: it may be topped up again.
    """

    whole: str
    per_use: str
    at_least: bool
    missing: tuple[str, ...] = ()


def cost_of_solution(state: SolutionState, brewery: Brewery) -> SolutionCost | None:
    """Agent and water by the brewery's prices; ``None`` where none of them has a price."""
    agent, money, missing, priced = state.solution.agent, 0.0, [], False
    if state.added_kg is None:
        missing.append("the amount of agent it was made up with")
    elif agent.price_kg is None:
        missing.append(f"the price of {agent.name}")
    else:
        money, priced = money + state.added_kg * agent.price_kg, True
    if brewery.water_price_hl is None:
        missing.append("the price of water")
    else:
        litres = state.solution.volume_l + sum(one.water_l or 0.0 for one in state.top_ups)
        money, priced = money + litres / 100 * brewery.water_price_hl, True
    if not priced:
        return None
    return SolutionCost(
        whole=f"{brewery.currency} {digits(money, '.2f')}",
        per_use=f"{brewery.currency} {digits(money / state.uses, '.2f')}" if state.uses else "",
        at_least=state.solution.dumped_at is None or bool(missing),
        missing=tuple(missing),
    )

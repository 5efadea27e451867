"""What makes a regime one that may be run: pure functions on its drafted steps."""

import dataclasses
from collections.abc import Callable, Iterator, Sequence

from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import digits
from brewhygiene.regimes.cautions import HOT_FROM_C
from brewhygiene.regimes.drafts import StepDraft, WindowDraft
from brewhygiene.regimes.materials.fit import heat_words, meets, too_hot
from brewhygiene.regimes.materials.meetings import RINSES
from brewhygiene.regimes.materials.strength import too_strong_words
from brewhygiene.regimes.measures import PLAUSIBLE, UNIT_OF, measure_key
from brewhygiene.regimes.models import (
    ActiveSubstance,
    AgentKind,
    Basis,
    EndCriterion,
    Quantity,
    StepKind,
)

MAX_STEPS = 20
INSTRUCTION_LENGTH = 300
SOURCE_LENGTH = 200
AGENT_STEPS = frozenset({StepKind.CAUSTIC, StepKind.ACID, StepKind.SANITISER})
SANITISING = frozenset({StepKind.SANITISER, StepKind.HOT_WATER})


@dataclasses.dataclass(frozen=True)
class Problem:
    """What is wrong, of which step (from 0; ``None``: of the whole), in which of its fields."""

    message: str
    step: int | None = None
    field: str = ""


def window_field(quantity: str, part: str) -> str:
    """The name of a window's field: part is minimum, target, maximum, basis or source."""
    return f"{quantity}_{part}"


def is_acidic(step: StepDraft) -> bool:
    """Acid, or the acid that peracetic acid comes with."""
    return step.kind == StepKind.ACID or (
        step.agent is not None and step.agent.active_substance == ActiveSubstance.PAA
    )


def is_chlorine(step: StepDraft) -> bool:
    return step.agent is not None and step.agent.active_substance == ActiveSubstance.CHLORINE


def rinsed_after(steps: Sequence[StepDraft], position: int) -> bool:
    """Whether a rinse comes after a step before any other agent does."""
    for step in steps[position + 1 :]:
        if step.kind in RINSES:
            return True
        if step.kind in AGENT_STEPS:
            return False
    return False


def agents_that_meet(steps: Sequence[StepDraft]) -> Iterator[tuple[int, StepDraft, StepDraft]]:
    """Agent steps with no rinse between them: the second's position, the first, the second."""
    before: StepDraft | None = None
    for position, step in enumerate(steps):
        if step.kind in RINSES:
            before = None
        elif step.kind in AGENT_STEPS:
            if before is not None:
                yield position, before, step
            before = step


def _window_problem(window: WindowDraft, step: StepDraft) -> tuple[str, str] | None:
    """The first thing wrong with a window's numbers: the part of the field, and the message."""
    if window.quantity == Quantity.CONCENTRATION:
        if window.basis not in Basis.values:
            return "basis", "Choose a basis: % w/w, % w/v, % v/v or mg/L."
        if step.kind not in AGENT_STEPS:
            return (
                "minimum",
                "This kind of step has no strength. Clear the strength.",
            )
    elif window.basis:
        return "minimum", "Only a strength has a basis."
    if window.minimum is None and window.maximum is None:
        return "minimum", "Enter a minimum, a maximum or both. A target alone is not enough."
    key = measure_key(quantity=window.quantity, basis=window.basis)
    low, high = PLAUSIBLE[key]
    for part, value in zip(("minimum", "target", "maximum"), window.bounds, strict=True):
        if value is not None and not low <= value <= high:
            return part, (
                f"{show_number(value)} {UNIT_OF[key]} is not possible. Enter "
                f"{show_number(low)} to {show_number(high)} {UNIT_OF[key]}."
            )
    given = [value for value in window.bounds if value is not None]
    if given != sorted(given):
        return "minimum", "Enter them in order: minimum, target, maximum."
    return None


def _problems_of_windows(step: StepDraft, position: int) -> Iterator[Problem]:
    for window in step.windows:
        wrong = _window_problem(window, step)
        if wrong is not None:
            part, message = wrong
            yield Problem(message, position, window_field(window.quantity, part))
        if not window.source.strip():
            yield Problem(
                "Enter a source, or tick “common practice, no source”.",
                position,
                window_field(window.quantity, "source"),
            )
        elif len(window.source) > SOURCE_LENGTH:
            yield Problem(
                f"Enter at most {SOURCE_LENGTH} characters.",
                position,
                window_field(window.quantity, "source"),
            )


def _problems_of_agent(step: StepDraft, position: int) -> Iterator[Problem]:
    if step.kind not in AGENT_STEPS:
        if step.agent is not None:
            yield Problem(
                f"A {StepKind(step.kind).label} step has no agent. Choose none.", position, "agent"
            )
        return
    if step.agent is None:
        yield Problem(
            f"Choose an agent for the {AgentKind(step.kind).label} step.",
            position,
            "agent",
        )
    elif step.agent.kind != step.kind:
        yield Problem(
            f"{step.agent.name} is not set up as {AgentKind(step.kind).label} but as "
            f"{step.agent.get_kind_display()}.",
            position,
            "agent",
        )
    elif not step.agent.active:
        yield Problem(f"{step.agent.name} is retired. Choose another agent.", position, "agent")


def _problems_of_step(step: StepDraft, position: int) -> Iterator[Problem]:
    if step.kind not in StepKind.values:
        yield Problem("Choose a kind of step.", position, "kind")
        return
    yield from _problems_of_agent(step, position)
    if len(step.instruction) > INSTRUCTION_LENGTH:
        yield Problem(f"Enter at most {INSTRUCTION_LENGTH} characters.", position, "instruction")
    if step.end_criterion not in EndCriterion.values:
        yield Problem("Choose how the step ends.", position, "end_criterion")
    elif step.end_criterion and not step.end_criterion_source.strip():
        yield Problem(
            "Enter a source, or tick “common practice, no source”.",
            position,
            "end_criterion_source",
        )
    elif len(step.end_criterion_source) > SOURCE_LENGTH:
        yield Problem(
            f"Enter at most {SOURCE_LENGTH} characters.", position, "end_criterion_source"
        )
    yield from _problems_of_windows(step, position)


def _problems_under_co2(steps: Sequence[StepDraft]) -> Iterator[Problem]:
    for position, step in enumerate(steps):
        if step.kind == StepKind.CAUSTIC:
            yield Problem(
                "No caustic while CO2 is in the vessel. It absorbs the gas and the vacuum folds "
                "the tank.",
                position,
                "kind",
            )
        if step.kind == StepKind.HOT_WATER:
            yield Problem(
                "No hot step in a clean under CO2. Cooling draws a vacuum.", position, "kind"
            )
        temperature = step.window(Quantity.TEMPERATURE_C)
        if temperature is not None and any(
            bound is not None and bound >= HOT_FROM_C for bound in temperature.bounds
        ):
            yield Problem(
                f"No hot step in a clean under CO2. Enter less than {digits(HOT_FROM_C, 'g')} °C.",
                position,
                window_field(Quantity.TEMPERATURE_C, "minimum"),
            )


def _problems_of_resanitising(steps: Sequence[StepDraft]) -> Iterator[Problem]:
    for position, step in enumerate(steps):
        if step.kind in (StepKind.CAUSTIC, StepKind.ACID):
            yield Problem(
                f"A regime that only re-sanitises has no {StepKind(step.kind).label} step.",
                position,
                "kind",
            )
    if not any(step.kind in SANITISING for step in steps):
        yield Problem("A regime that only re-sanitises needs a sanitiser or hot water.")


def _problems_of_meeting(steps: Sequence[StepDraft]) -> Iterator[Problem]:
    told = set()
    for position, before, step in agents_that_meet(steps):
        if (is_acidic(before) and is_chlorine(step)) or (is_chlorine(before) and is_acidic(step)):
            told.add(position)
            yield Problem(
                "Acid and chlorine must never meet. They release a gas that kills. Put a rinse "
                "between them.",
                position,
                "agent",
            )
        elif before.kind == StepKind.CAUSTIC and step.kind == StepKind.SANITISER:
            yield Problem(
                "Put a rinse between caustic and sanitiser. Caustic left behind spoils the "
                "sanitiser.",
                position,
                "kind",
            )
    for harm in meets(steps):
        if harm.position not in told:
            yield Problem(
                f"{harm.words} Put a rinse between them whose end is measured: pH or conductivity.",
                harm.position,
                harm.field,
            )


def _problems_of_heat(steps: Sequence[StepDraft], vessel_kinds: Sequence[str]) -> Iterator[Problem]:
    for position, step in enumerate(steps):
        if step.agent is not None and (limit := too_hot(step, vessel_kinds)) is not None:
            yield Problem(
                f"{heat_words(step.agent, limit)}.",
                position,
                window_field(Quantity.TEMPERATURE_C, "maximum"),
            )


def _problems_of_strength(
    steps: Sequence[StepDraft], vessel_kinds: Sequence[str]
) -> Iterator[Problem]:
    for position, step in enumerate(steps):
        if words := too_strong_words(step, vessel_kinds, refused=True):
            yield Problem(words, position, window_field(Quantity.CONCENTRATION, "maximum"))


def _problems_of_sampling(steps: Sequence[StepDraft]) -> Iterator[Problem]:
    """A sample before the clean is through, or in what an agent left, says nothing."""
    agents = [n for n, step in enumerate(steps) if step.kind in AGENT_STEPS - SANITISING]
    for position, step in enumerate(steps):
        if step.kind != StepKind.SAMPLE:
            continue
        later = next((steps[n] for n in agents if n > position), None)
        before = max((n for n in agents if n < position), default=-1)
        rinses = [one.kind for one in steps[before + 1 : position]]
        if later is not None:
            yield Problem(
                f"The {StepKind(later.kind).label} step comes after this sample. Put the sample "
                "after the last rinse.",
                position,
                "kind",
            )
        elif StepKind.RINSE not in rinses and not SANITISING & set(rinses):
            yield Problem(
                "Put a rinse before the sample. What an agent leaves makes readings too low.",
                position,
                "kind",
            )


def _problems_of_what_stays(steps: Sequence[StepDraft]) -> Iterator[Problem]:
    agents = [position for position, step in enumerate(steps) if step.kind in AGENT_STEPS]
    if not agents or rinsed_after(steps, agents[-1]):
        return
    last = steps[agents[-1]]
    if last.agent is not None and not last.agent.no_rinse_allowed:
        yield Problem(
            f"{last.agent.name} may not be left in the vessel. Put a rinse after it.",
            agents[-1],
            "agent",
        )


def problems_of(
    steps: Sequence[StepDraft],
    *,
    under_co2: bool,
    resanitises_only: bool,
    vessel_kinds: Sequence[str] = (),
) -> list[Problem]:
    """Everything for which a regime of these steps is refused; empty when it may be run."""
    if not steps:
        return [Problem("A regime needs at least one step.")]
    if len(steps) > MAX_STEPS:
        return [Problem(f"A regime has at most {MAX_STEPS} steps.")]
    found = [
        problem
        for position, step in enumerate(steps)
        for problem in _problems_of_step(step, position)
    ]
    whole: list[Callable[[Sequence[StepDraft]], Iterator[Problem]]] = [
        _problems_of_meeting,
        _problems_of_sampling,
        _problems_of_what_stays,
    ]
    if under_co2:
        whole.append(_problems_under_co2)
    if resanitises_only:
        whole.append(_problems_of_resanitising)
    for rule in whole:
        found += rule(steps)
    return [
        *found,
        *_problems_of_heat(steps, vessel_kinds),
        *_problems_of_strength(steps, vessel_kinds),
    ]

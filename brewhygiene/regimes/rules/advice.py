"""What a brewer should know of a regime or an agent but may decide: warnings, never refusals."""

from collections.abc import Iterator, Sequence

from brewhygiene.cellar.models import VesselKind
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import digits
from brewhygiene.regimes.cautions import CLOSED_VESSELS, runs_hot
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.materials.fit import highest
from brewhygiene.regimes.materials.heat import heat_limit
from brewhygiene.regimes.materials.strength import too_strong_words
from brewhygiene.regimes.models import (
    ActiveSubstance,
    Agent,
    Basis,
    Quantity,
    StepKind,
)
from brewhygiene.regimes.rules.no_rinse import exceeded_maxima
from brewhygiene.regimes.rules.problems import AGENT_STEPS, Problem, agents_that_meet, rinsed_after
from brewhygiene.science.solutions.density import OutOfRange
from brewhygiene.science.solutions.strength import NotConvertible, convert_strength

# Common practice, no source.
SAMPLE_BELOW_C = 30.0


def _chemical(agent: Agent) -> str:
    return ActiveSubstance(agent.active_substance).label


def advice_on_agent(agent: Agent) -> list[str]:
    """Each starting value that the site's own no-rinse maximum is above, with its source."""
    if not agent.no_rinse_allowed or agent.no_rinse_max_mg_l is None:
        return []
    return [
        f"{show_number(agent.no_rinse_max_mg_l)} mg/L is above the starting value for "
        f"{_chemical(agent)}, {show_number(starting.max_mg_l)} mg/L "
        f"({starting.source_words}). Check the label and the current code."
        for starting in exceeded_maxima(
            substance=agent.active_substance, max_mg_l=agent.no_rinse_max_mg_l
        )
    ]


def _left_mg_l(window: WindowDraft, agent: Agent) -> float | None:
    """The window's maximum in mg/L; ``None`` where it cannot be worked out."""
    if window.maximum is None:
        return None
    try:
        return convert_strength(
            value=window.maximum,
            basis=window.basis,
            to_basis=Basis.MG_L,
            substance=agent.active_substance,
            product_strength_ww=agent.concentrate_strength_ww,
            product_density_kg_l=agent.concentrate_density_kg_l,
        )
    except (NotConvertible, OutOfRange):
        return None


def _advice_on_what_stays(steps: Sequence[StepDraft]) -> Iterator[Problem]:
    for position, step in enumerate(steps):
        agent = step.agent
        if (
            step.kind not in AGENT_STEPS
            or agent is None
            or agent.no_rinse_max_mg_l is None
            or rinsed_after(steps, position)
        ):
            continue
        most = f"{show_number(agent.no_rinse_max_mg_l)} mg/L ({agent.no_rinse_source})"
        window = step.window(Quantity.CONCENTRATION)
        left = _left_mg_l(window, agent) if window is not None else None
        if left is None:
            yield Problem(
                f"No rinse follows and {agent.name} may be left up to {most}, but the step sets "
                "no maximum to compare with.",
                position,
            )
        elif left > agent.no_rinse_max_mg_l:
            yield Problem(
                f"No rinse follows, and this window goes up to {show_number(left)} mg/L: "
                f"{agent.name} may be left up to {most}.",
                position,
            )


def _advice_on_venting(
    steps: Sequence[StepDraft], vessel_kinds: Sequence[str]
) -> Iterator[Problem]:
    closed = [VesselKind(kind).label for kind in vessel_kinds if kind in CLOSED_VESSELS]
    if not closed:
        return
    for position, step in enumerate(steps):
        if step.kind == StepKind.VENT:
            return
        temperature = step.window(Quantity.TEMPERATURE_C)
        hot = runs_hot(step.kind, temperature.bounds if temperature else None)
        if step.kind == StepKind.CAUSTIC or hot:
            what = "caustic" if step.kind == StepKind.CAUSTIC else "hot"
            yield Problem(
                f"No vent-and-purge step comes before this {what} step, and a {closed[0]} is "
                "closed. The safety checks before the step are still required.",
                position,
            )
            return


def _advice_on_meeting(steps: Sequence[StepDraft]) -> Iterator[Problem]:
    for position, before, step in agents_that_meet(steps):
        if {before.kind, step.kind} == {StepKind.CAUSTIC, StepKind.ACID}:
            yield Problem(
                "No rinse between caustic and acid. They neutralise each other and heat up.",
                position,
            )


def _advice_on_sampling(steps: Sequence[StepDraft]) -> Iterator[Problem]:
    sanitised = False
    for position, step in enumerate(steps):
        if step.kind == StepKind.SANITISER:
            sanitised = True
        elif step.kind == StepKind.RINSE:
            sanitised = False
        elif step.kind == StepKind.SAMPLE:
            if sanitised:
                yield Problem(
                    "This sample is taken in the sanitiser, which can dim an ATP reading. Put it "
                    "before the sanitiser, or prove by a recovery study that it does not dim.",
                    position,
                )
            cool = step.window(Quantity.TEMPERATURE_C)
            if cool is None or cool.maximum is None or cool.maximum > SAMPLE_BELOW_C:
                yield Problem(
                    "This sample step does not ask for a rinse cooled to "
                    f"{digits(SAMPLE_BELOW_C, 'g')} °C. A warm rinse makes ATP readings "
                    "unreliable.",
                    position,
                )


def _advice_on_heat(steps: Sequence[StepDraft], vessel_kinds: Sequence[str]) -> Iterator[Problem]:
    for position, step in enumerate(steps):
        if step.agent is None:
            continue
        celsius = highest(step, Quantity.TEMPERATURE_C)
        limit = heat_limit(step.agent.active_substance, vessel_kinds)
        if limit is None or celsius is None:
            continue
        if limit.ask_above_c < celsius <= limit.never_above_c:
            yield Problem(
                f"{step.agent.name} above {digits(limit.ask_above_c, 'g')} °C: {limit.why}. "
                "Check the label. "
                f"Source: {limit.source_words}.",
                position,
            )


def _advice_on_strength(
    steps: Sequence[StepDraft], vessel_kinds: Sequence[str]
) -> Iterator[Problem]:
    for position, step in enumerate(steps):
        if words := too_strong_words(step, vessel_kinds, refused=False):
            yield Problem(words, position)


def advice_on(steps: Sequence[StepDraft], *, vessel_kinds: Sequence[str]) -> list[Problem]:
    """What to consider in a regime that may be run."""
    return [
        *_advice_on_venting(steps, vessel_kinds),
        *_advice_on_meeting(steps),
        *_advice_on_what_stays(steps),
        *_advice_on_heat(steps, vessel_kinds),
        *_advice_on_strength(steps, vessel_kinds),
        *_advice_on_sampling(steps),
    ]


def stale_sources(before: Sequence[StepDraft], after: Sequence[StepDraft]) -> list[Problem]:
    """Windows whose numbers changed while a real source stayed: does it still say so?"""
    known = {
        (step.kind, window.quantity, window.source): (window.bounds, window.basis)
        for step in before
        for window in step.windows
        if window.source != COMMON_PRACTICE
    }
    found = []
    for position, step in enumerate(after):
        for window in step.windows:
            was = known.get((step.kind, window.quantity, window.source))
            if was is not None and was != (window.bounds, window.basis):
                found.append(
                    Problem(
                        f"Step {position + 1}, {Quantity(window.quantity).label}: the numbers "
                        f"changed and the source did not. Check that “{window.source}” still "
                        "applies.",
                        position,
                    )
                )
    return found

"""A site's version of a starting regime beside the shipped one, step by step. Pure functions."""

import dataclasses
import difflib
from collections.abc import Callable, Sequence

from brewhygiene.cellar.models import VesselKind
from brewhygiene.regimes.about import AgentValues
from brewhygiene.regimes.drafts import StepDraft, WindowDraft, drafts_of
from brewhygiene.regimes.library.agents import AGENTS
from brewhygiene.regimes.library.regimes import REGIMES, StartingRegime
from brewhygiene.regimes.models import (
    Agent,
    EndCriterion,
    Quantity,
    Regime,
    RegimeVersion,
    StepKind,
)

Words = Callable[[WindowDraft], str]


@dataclasses.dataclass(frozen=True)
class Line:
    """One thing of a step that differs, in words: what the site has, and what is shipped."""

    about: str
    own: str
    shipped: str


@dataclasses.dataclass(frozen=True)
class StepDifference:
    """A step of either version: ``change`` is "same", "edited", "only yours" or "only shipped"."""

    title: str
    change: str
    lines: Sequence[Line] = ()


@dataclasses.dataclass(frozen=True)
class Differences:
    """All that taking the shipped wording would change."""

    steps: Sequence[StepDifference]
    kinds_added: Sequence[str]  # kinds of vessel that the shipped regime is for besides

    def __bool__(self) -> bool:
        return bool(self.kinds_added) or any(step.change != "same" for step in self.steps)


def starting_of(regime: Regime) -> StartingRegime | None:
    """The starting regime that a site's regime came from, by its name."""
    if not regime.shipped:
        return None
    name = regime.name.casefold()
    return next((one for one in REGIMES if one.about.name.casefold() == name), None)


def agents_as_shipped() -> dict[str, Agent]:
    """The agents of the library by name, as no site has edited them; not stored."""
    names = [field.name for field in dataclasses.fields(AgentValues)]
    return {one.name: Agent(**{name: getattr(one, name) for name in names}) for one in AGENTS}


def with_other_wording(regimes: Sequence[Regime]) -> list[Regime]:
    """The active regimes that came from a starting one and stand otherwise now. 0 queries.

    ``regimes`` with ``in_force``, as of ``regimes_for_list``.
    """
    found = []
    for regime in regimes:
        starting = starting_of(regime)
        if regime.active and starting is not None:
            (version,) = regime.in_force  # type: ignore[attr-defined]
            if differences(version, starting, str):
                found.append(regime)
    return found


def _title(step: StepDraft) -> str:
    kind = str(StepKind(step.kind).label)
    agent = f": {step.agent.name}" if step.agent is not None else ""
    return f"{kind[0].upper()}{kind[1:]}{agent}"


def _window_words(window: WindowDraft | None, words: Words) -> str:
    return "not set" if window is None else f"{words(window)} ({window.source.strip()})"


def _end_words(step: StepDraft) -> str:
    end = str(EndCriterion(step.end_criterion).label)
    source = step.end_criterion_source.strip() if step.end_criterion else ""
    return f"{end} ({source})" if source else end


def _window_differs(own: WindowDraft | None, shipped: WindowDraft | None) -> bool:
    if own is None or shipped is None:
        return own is not shipped
    return (*own.bounds, own.basis, own.source.strip()) != (
        *shipped.bounds,
        shipped.basis,
        shipped.source.strip(),
    )


def _lines(own: StepDraft, shipped: StepDraft, words: Words) -> list[Line]:
    found = []
    if own.instruction.strip() != shipped.instruction.strip():
        found.append(
            Line(
                "Instruction",
                own.instruction.strip() or "none",
                shipped.instruction.strip() or "none",
            )
        )
    for quantity in Quantity:
        mine, theirs = own.window(quantity), shipped.window(quantity)
        if _window_differs(mine, theirs):
            label = str(quantity.label)
            found.append(
                Line(
                    f"{label[0].upper()}{label[1:]}" if quantity != Quantity.PH else label,
                    _window_words(mine, words),
                    _window_words(theirs, words),
                )
            )
    if _end_words(own) != _end_words(shipped):
        found.append(Line("Ends when", _end_words(own), _end_words(shipped)))
    return found


def _key(step: StepDraft) -> tuple[str, str]:
    return step.kind, step.agent.name.casefold() if step.agent is not None else ""


def steps_beside(
    own: Sequence[StepDraft], shipped: Sequence[StepDraft], words: Words
) -> list[StepDifference]:
    """Both in one order: the steps that they share beside each other, the others where they stand.

    Two steps are the same one where kind and agent are.
    """
    found: list[StepDifference] = []
    matcher = difflib.SequenceMatcher(
        a=[_key(step) for step in own], b=[_key(step) for step in shipped], autojunk=False
    )
    for tag, first, end, other, other_end in matcher.get_opcodes():
        if tag == "equal":
            for mine, theirs in zip(own[first:end], shipped[other:other_end], strict=True):
                lines = _lines(mine, theirs, words)
                found.append(StepDifference(_title(theirs), "edited" if lines else "same", lines))
            continue
        found += [StepDifference(_title(step), "only yours") for step in own[first:end]]
        found += [
            StepDifference(
                _title(step), "only shipped", _lines(StepDraft(step.kind, step.agent), step, words)
            )
            for step in shipped[other:other_end]
        ]
    return found


def differences(version: RegimeVersion, starting: StartingRegime, words: Words) -> Differences:
    """What a stored version has otherwise than the shipped one; reads prefetched steps."""
    return Differences(
        steps=steps_beside(drafts_of(version), starting.steps(agents_as_shipped()), words),
        kinds_added=[
            str(VesselKind(kind).label)
            for kind in starting.about.vessel_kinds
            if kind not in version.regime.vessel_kinds
        ],
    )

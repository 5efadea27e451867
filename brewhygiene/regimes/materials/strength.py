"""How strong an agent may be in kegs, hoses and draught lines, by its kind."""

import dataclasses
from collections.abc import Iterable

from brewhygiene.cellar.models import VesselKind
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.style import digits
from brewhygiene.regimes.drafts import StepDraft
from brewhygiene.regimes.materials.sources import SOURCES
from brewhygiene.regimes.models import Basis, Quantity, Step, StepKind
from brewhygiene.science.solutions.density import OutOfRange
from brewhygiene.science.solutions.strength import NotConvertible, convert_strength


@dataclasses.dataclass(frozen=True)
class StrengthLimit:
    """Above ``ask_above_ww`` somebody has to ask, above ``never_above_ww`` it is refused, % w/w."""

    ask_above_ww: float
    never_above_ww: float | None
    source_words: str


COMMON = SOURCES["CP"]
_CAUSTIC = StrengthLimit(3, 5, COMMON)
_ACID = StrengthLimit(2, None, COMMON)

STRENGTH_LIMITS: dict[tuple[str, str], StrengthLimit] = {
    (VesselKind.KEG, StepKind.CAUSTIC): _CAUSTIC,
    (VesselKind.HOSE_SET, StepKind.CAUSTIC): _CAUSTIC,
    (VesselKind.KEG, StepKind.ACID): _ACID,
    (VesselKind.HOSE_SET, StepKind.ACID): _ACID,
    (VesselKind.DRAUGHT_LINE, StepKind.CAUSTIC): StrengthLimit(
        3, 4, f"{SOURCES['MANUAL']}, up to 3 %. 4 %: {COMMON}"
    ),
}


def strength_limit(kind: str, vessel_kinds: Iterable[str]) -> StrengthLimit | None:
    """The strictest limit of a kind of step among kinds of vessel, or ``None``."""
    limits = [STRENGTH_LIMITS.get((vessel_kind, kind)) for vessel_kind in vessel_kinds]
    return min(
        (limit for limit in limits if limit is not None),
        key=lambda limit: (limit.ask_above_ww, limit.never_above_ww or 100),
        default=None,
    )


def strongest_ww(step: Step | StepDraft) -> float | None:
    """The maximum that a step sets, % w/w; ``None`` where it sets none or it is not known."""
    window = step.window(Quantity.CONCENTRATION)
    if window is None or window.maximum is None or step.agent is None:
        return None
    try:
        return convert_strength(
            value=window.maximum,
            basis=window.basis,
            to_basis=Basis.WW,
            substance=step.agent.active_substance,
            product_strength_ww=step.agent.concentrate_strength_ww,
            product_density_kg_l=step.agent.concentrate_density_kg_l,
        )
    except (NotConvertible, OutOfRange):
        return None


def too_strong_words(
    step: Step | StepDraft, vessel_kinds: Iterable[str], *, refused: bool
) -> str | None:
    """Why a step is stronger than its kinds of vessel allow (``refused``), or than is usual."""
    limit = strength_limit(step.kind, vessel_kinds)
    strongest = strongest_ww(step)
    if limit is None or step.agent is None:
        return None
    if strongest is None:
        return (
            None
            if refused
            else f"{step.agent.name} has no maximum strength here. "
            f"{digits(limit.ask_above_ww, 'g')} % w/w is usual. Source: {limit.source_words}."
        )
    never = limit.never_above_ww
    if refused and never is not None and strongest > never:
        return (
            f"{show_number(strongest)} % w/w is too strong for this kind of vessel. Enter at most "
            f"{digits(never, 'g')} % w/w. Source: {limit.source_words}."
        )
    if not refused and strongest > limit.ask_above_ww and (never is None or strongest <= never):
        return (
            f"Up to {show_number(strongest)} % w/w: more than "
            f"{digits(limit.ask_above_ww, 'g')} % is not usual here. Check the label. "
            f"Source: {limit.source_words}."
        )
    return None

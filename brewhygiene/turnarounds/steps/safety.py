"""The cautions of a step of a clean, and those that somebody has acknowledged."""

from brewhygiene.regimes.cautions import Caution, cautions_for_kind
from brewhygiene.regimes.models import Step
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.residues import cautions_at_hand


def regime_cautions(clean: Clean, step: Step) -> list[Caution]:
    """What a step calls for on this kind of vessel, hard stops first; reads prefetched steps."""
    before = [other for other in clean.version.steps.all() if other.order < step.order]
    return cautions_for_kind(
        step,
        clean.turnaround.vessel.kind,
        under_co2=clean.version.regime.under_co2,
        previous=before[-1] if before else None,
    )


def step_cautions(clean: Clean, step: Step) -> list[Caution]:
    """The cautions of a step, and what its materials and the agents before it add. 1 query."""
    return [*regime_cautions(clean, step), *cautions_at_hand(clean, step)]


def _by_code(cautions: list[Caution]) -> dict[str, str]:
    return {
        caution.code: f"{caution.title}. {caution.text}"
        for caution in cautions
        if not caution.signed
    }


def required_codes(clean: Clean, step: Step) -> dict[str, str]:
    """Code and wording of the cautions to be acknowledged before a step. 1 query."""
    return _by_code(step_cautions(clean, step))


def codes_of_regime(clean: Clean, step: Step) -> dict[str, str]:
    """Those that a step calls for whatever the vessel is made of now; reads prefetched steps.

    A material that is edited later makes no clean before it unsafe.
    """
    return _by_code(regime_cautions(clean, step))


def acknowledged_codes(clean: Clean, step: Step) -> set[str]:
    """Codes already acknowledged for this step of this clean; reads prefetched rows."""
    return {
        code for ack in clean.acknowledgements.all() if ack.step_id == step.pk for code in ack.codes
    }

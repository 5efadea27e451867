"""The cautions of a step of a clean, and those that somebody has acknowledged."""

from brewhygiene.regimes.cautions import Caution, cautions_for_kind
from brewhygiene.regimes.models import Step
from brewhygiene.turnarounds.models import Clean


def step_cautions(clean: Clean, step: Step) -> list[Caution]:
    """The cautions of a step of a clean, hard stops first; reads prefetched steps."""
    before = [other for other in clean.version.steps.all() if other.order < step.order]
    return cautions_for_kind(
        step,
        clean.turnaround.vessel.kind,
        under_co2=clean.version.regime.under_co2,
        previous=before[-1] if before else None,
    )


def required_codes(clean: Clean, step: Step) -> dict[str, str]:
    """Code and wording of the cautions to be acknowledged before a step."""
    return {
        caution.code: f"{caution.title}. {caution.text}" for caution in step_cautions(clean, step)
    }


def acknowledged_codes(clean: Clean, step: Step) -> set[str]:
    """Codes already acknowledged for this step of this clean; reads prefetched rows."""
    return {
        code for ack in clean.acknowledgements.all() if ack.step_id == step.pk for code in ack.codes
    }

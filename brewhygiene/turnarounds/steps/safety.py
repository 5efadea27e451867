"""The cautions of a step of a clean, and those that somebody has acknowledged."""

from brewhygiene.regimes.cautions import Caution, cautions_for_kind
from brewhygiene.regimes.models import Step
from brewhygiene.turnarounds.models import Clean
from brewhygiene.turnarounds.residues import cautions_at_hand, hot_before


def step_cautions(clean: Clean, step: Step) -> list[Caution]:
    """The cautions of a step in this vessel, with what is left in it, hard stops first.

    At most 3 queries, for all steps of a clean.
    """
    vessel = clean.turnaround.vessel
    by_kind = cautions_for_kind(
        step,
        vessel.kind,
        under_co2=clean.version.regime.under_co2,
        heat_before=hot_before(clean, step),
        vacuum_valve=vessel.vacuum_valve,
    )
    return [*by_kind, *cautions_at_hand(clean, step)]


def _by_code(cautions: list[Caution]) -> dict[str, str]:
    return {
        caution.code: f"{caution.title}. {caution.text}"
        for caution in cautions
        if not caution.signed
    }


def required_codes(clean: Clean, step: Step) -> dict[str, str]:
    """Code and wording of the cautions to be acknowledged before a step. At most 3 queries."""
    return _by_code(step_cautions(clean, step))


def asks_for_checks(clean: Clean, step: Step, *, heat_before: bool) -> bool:
    """Whether a step calls for any caution on a vessel of this kind; reads prefetched steps.

    ``heat_before`` where the steps before it leave a vessel hot. Which cautions it called for
    depended on the vessel and on what was in it then; no step starts before all of those are
    acknowledged.
    """
    return bool(
        cautions_for_kind(
            step,
            clean.turnaround.vessel.kind,
            under_co2=clean.version.regime.under_co2,
            heat_before=heat_before,
            vacuum_valve=False,
        )
    )


def acknowledged_codes(clean: Clean, step: Step) -> set[str]:
    """Codes already acknowledged for this step of this clean; reads prefetched rows."""
    return {
        code for ack in clean.acknowledgements.all() if ack.step_id == step.pk for code in ack.codes
    }

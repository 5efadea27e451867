"""What an attempt at a step lacks at its end: each is a deviation. Part of actions."""

from brewhygiene.ledger.recording import Actor
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models import CleanPurpose, Outflow, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation, DeviationKind
from brewhygiene.turnarounds.progress import latest_readings, unread_quantities
from brewhygiene.turnarounds.quantities import quantity_title
from brewhygiene.turnarounds.questions import points_not_sampled
from brewhygiene.turnarounds.steps.ends import shows_end


def _unread_words(record: StepRecord, quantity: str) -> str:
    title = quantity_title(quantity)
    if quantity in latest_readings(record):
        return f"{title} was not read again after it was put right"
    return f"{title} was not read"


def name_what_is_missing(record: StepRecord, *, drain: str, by: Actor) -> None:
    """What was not read or not sampled, an end not reached, and what went back though it must not.

    ``drain`` is why its water or solution goes to the drain, '' where it need not.
    """
    step = record.step
    # An end that was not reached is a deviation already; what would have shown it is none.
    for quantity in unread_quantities(record, step):
        if quantity in shows_end(step) and step.window(quantity) is None:
            continue
        Deviation.objects.create(
            record=record,
            kind=DeviationKind.NOT_READ,
            quantity=quantity,
            description=_unread_words(record, quantity),
            found_at=by.now,
        )
    if record.end_criterion_met is False:
        Deviation.objects.create(
            record=record,
            kind=DeviationKind.END_NOT_MET,
            description=f"End not reached: {step.get_end_criterion_display()}",
            found_at=by.now,
        )
    if drain and record.outflow == Outflow.RETURNED:
        Deviation.objects.create(
            record=record,
            kind=DeviationKind.RETURNED,
            description=f"Went back to the tank. {drain}"[:200],
            found_at=by.now,
        )
    asks_for_samples = record.clean.purpose != CleanPurpose.BEFORE_FILLING
    if step.kind == StepKind.SAMPLE and asks_for_samples and (names := points_not_sampled(record)):
        Deviation.objects.create(
            record=record,
            kind=DeviationKind.NOT_SAMPLED,
            description=f"The step ended without a sample: {', '.join(names)}"[:200],
            found_at=by.now,
        )

"""Whether a step's end is what its readings say it is."""

from datetime import timedelta

from brewhygiene.ledger.recording import Actor
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import EndCriterion, Step
from brewhygiene.science.tank.against_supply import Judgement, neutral, same_conductivity, same_ph
from brewhygiene.turnarounds.models import ReadingStage, StepReading, StepRecord
from brewhygiene.turnarounds.progress import MEASURED_ENDS, latest_readings
from brewhygiene.turnarounds.quantities import quantity_title

# Water is compared with the supply of the same day.
SUPPLY_HOLDS_FOR = timedelta(hours=24)


def supply_reading(quantity: str, *, by: Actor) -> StepReading | None:
    """The latest reading of the supply water, of any clean, within a day. 1 query."""
    return (
        StepReading.objects.filter(
            quantity=quantity,
            stage=ReadingStage.SUPPLY,
            taken_at__gt=by.now - SUPPLY_HOLDS_FOR,
            taken_at__lte=by.now,
            corrected_by__isnull=True,
        )
        .order_by("-taken_at", "-pk")
        .first()
    )


def _as_read(step: Step, reading: StepReading, *, by: Actor) -> Judgement:
    if step.end_criterion == EndCriterion.NEUTRAL:
        return neutral(reading.value)
    supply = supply_reading(reading.quantity, by=by)
    value = None if supply is None else supply.value
    if step.end_criterion == EndCriterion.TAP_PH:
        return same_ph(reading.value, supply_ph=value)
    return same_conductivity(reading.value, supply_ms_cm=value)


def refuse_end_not_read(step: Step, record: StepRecord, *, by: Actor) -> None:
    """Refuse that an end was reached which an instrument shows, and did not. At most 1 query."""
    quantity = MEASURED_ENDS.get(step.end_criterion)
    if quantity is None:
        return
    reading = latest_readings(record).get(quantity)
    title, end = quantity_title(quantity), step.get_end_criterion_display()
    if reading is None:
        raise Refusal(
            f"Read the {title if title == 'pH' else title.lower()} of the rinse first. If it "
            "cannot be read, choose No.",
            field="end_criterion_met",
            code="end_not_read",
        )
    found = _as_read(step, reading, by=by)
    if found.says == "met":
        return
    if found.says == "ask_supply":
        raise Refusal(
            f"{found.why[0].upper()}{found.why[1:]}. Record it with “of the supply water”, "
            "or choose No.",
            field="end_criterion_met",
            code="supply_not_read",
        )
    raise Refusal(
        f"The last reading was {reading.typed}, {found.why}. The end is: {end}. "
        "Rinse on and read again, or choose No.",
        field="end_criterion_met",
        code="end_contradicted",
    )

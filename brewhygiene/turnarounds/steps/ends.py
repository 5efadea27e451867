"""Whether a step's end is what its readings say it is."""

from datetime import datetime, timedelta

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Vessel
from brewhygiene.quantities.style import digits
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import VENT_QUANTITIES, EndCriterion, Quantity, Step
from brewhygiene.science.tank.against_supply import (
    NEUTRAL_PH,
    Judgement,
    neutral,
    same_conductivity,
    same_ph,
)
from brewhygiene.science.tank.indicators import nearest_in
from brewhygiene.science.tank.venting import (
    VOLUMES_ASKED,
    air_through_m3,
    minutes_to_purge,
    purged,
)
from brewhygiene.turnarounds.models import ReadingStage, StepReading, StepRecord
from brewhygiene.turnarounds.progress import (
    MEASURED_ENDS,
    chain_of,
    latest_readings,
    standing_readings,
)
from brewhygiene.turnarounds.quantities import INDICATOR, minutes_words, quantity_title

# Water is compared with the supply of the same day.
SUPPLY_HOLDS_FOR = timedelta(hours=24)


def shows_end(step: Step) -> tuple[str, ...]:
    """The quantities by which the end of a step is shown; none for what is only looked at."""
    if step.end_criterion == EndCriterion.VENTED:
        return VENT_QUANTITIES
    measured = MEASURED_ENDS.get(step.end_criterion)
    return () if measured is None else (measured,)


def air_m3(record: StepRecord, *, until: datetime) -> float | None:
    """Air driven through in an attempt and those it prolongs, m³; ``None`` if no flow was read.

    0 queries after ``progress_of``.
    """
    found = []
    for attempt in chain_of(record):
        flows = [
            ((reading.taken_at - attempt.started_at).total_seconds(), reading.value)
            for reading in standing_readings(attempt)
            if reading.quantity == Quantity.AIR_M3_H
        ]
        end = min(attempt.ended_at or until, until)
        if flows:
            ran_s = (end - attempt.started_at).total_seconds()
            found.append(air_through_m3(sorted(flows), until_s=ran_s))
    return sum(found) if found else None


def vented(record: StepRecord, vessel: Vessel, *, until: datetime) -> Judgement:
    """Whether a tank is purged, by its CO2 or by the air driven through. 0 queries."""
    co2 = latest_readings(record).get(Quantity.CO2_PCT)
    return purged(
        volume_hl=vessel.volume_hl,
        air_m3=air_m3(record, until=until),
        co2_pct=None if co2 is None else co2.value,
    )


def vent_words(record: StepRecord, vessel: Vessel, *, now: datetime) -> str:
    """What a running vent step still needs, in words. 0 queries."""
    if vented(record, vessel, until=now).says == "met":
        return "Purged as far as read"
    air = latest_readings(record).get(Quantity.AIR_M3_H)
    asked_m3 = VOLUMES_ASKED * vessel.volume_hl / 10
    if air is None or air.value <= 0:
        return f"{digits(VOLUMES_ASKED, 'g')} tank volumes are {digits(asked_m3, 'g')} m³ of air"
    minutes = minutes_to_purge(volume_hl=vessel.volume_hl, air_m3_h=air.value)
    through = air_m3(record, until=now) or 0.0
    return (
        f"{digits(asked_m3, 'g')} m³ of air: {minutes_words(minutes)} at {air.typed}. "
        f"{digits(through, '.1f')} m³ so far"
    )


def _refuse_not_vented(record: StepRecord, *, now: datetime, claimed: bool) -> None:
    found = vented(record, record.clean.turnaround.vessel, until=now)
    if found.says == "met":
        return
    if claimed and Quantity.CO2_PCT not in latest_readings(record):
        return
    unread = not set(latest_readings(record)) & set(VENT_QUANTITIES)
    raise Refusal(
        "Read the CO2 at the bottom outlet or the air flow first. If neither can be read, "
        "choose No."
        if unread
        else f"Not purged yet: {found.why}. Vent on and read again, or choose No.",
        field="end_criterion_met",
        code="end_not_read" if unread else "end_contradicted",
    )


def supply_reading(quantity: str, *, now: datetime) -> StepReading | None:
    """The latest reading of the supply water, of any clean, within a day. 1 query."""
    return (
        StepReading.objects.filter(
            quantity=quantity,
            stage=ReadingStage.SUPPLY,
            taken_at__gt=now - SUPPLY_HOLDS_FOR,
            taken_at__lte=now,
            corrected_by__isnull=True,
        )
        .order_by("-taken_at", "-pk")
        .first()
    )


def _supply_value(quantity: str, *, now: datetime) -> float | None:
    """What the supply water reads: of the day, or as the site knows it. 2 queries at most."""
    read = supply_reading(quantity, now=now)
    if read is not None:
        return read.value
    brewery = Brewery.current()
    usual = {
        Quantity.PH: brewery.supply_ph,
        Quantity.CONDUCTIVITY_MS_CM: brewery.supply_conductivity_ms_cm,
    }
    return usual.get(Quantity(quantity))


def _ph_of(reading: StepReading, *, aim: float) -> float:
    """The pH of a reading; of a colour the one of its range that is nearest to ``aim``."""
    kept = reading.titration or {}
    if kept.get("method") != INDICATOR:
        return reading.value
    return nearest_in(float(kept["low"]), float(kept["high"]), aim=aim)


def _as_read(step: Step, reading: StepReading, *, now: datetime) -> Judgement:
    if step.end_criterion == EndCriterion.NEUTRAL:
        return neutral(_ph_of(reading, aim=sum(NEUTRAL_PH) / 2))
    value = _supply_value(reading.quantity, now=now)
    if step.end_criterion == EndCriterion.TAP_PH:
        ph = reading.value if value is None else _ph_of(reading, aim=value)
        return same_ph(ph, supply_ph=value)
    return same_conductivity(reading.value, supply_ms_cm=value)


def refuse_end_not_read(
    step: Step, record: StepRecord, *, now: datetime, claimed: bool = False
) -> None:
    """Refuse that an end was reached which an instrument shows, and did not. 2 queries at most.

    What is only ``claimed`` was perhaps not read: it is refused where a reading contradicts it.
    """
    if step.end_criterion == EndCriterion.VENTED:
        _refuse_not_vented(record, now=now, claimed=claimed)
        return
    quantity = MEASURED_ENDS.get(step.end_criterion)
    if quantity is None:
        return
    reading = latest_readings(record).get(quantity)
    title, end = quantity_title(quantity), step.get_end_criterion_display()
    if reading is None and claimed:
        return
    if reading is None:
        raise Refusal(
            f"Read the {title if title == 'pH' else title.lower()} of the rinse first. If it "
            "cannot be read, choose No.",
            field="end_criterion_met",
            code="end_not_read",
        )
    found = _as_read(step, reading, now=now)
    if found.says == "met" or (claimed and found.says == "ask_supply"):
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


def end_as_read(step: Step, record: StepRecord, *, now: datetime) -> str:
    """The reading by which an end is reached, in words, or '' where none shows it.

    Nobody need say yes to what an instrument has shown. 2 queries at most.
    """
    showing = [
        reading
        for quantity, reading in latest_readings(record).items()
        if quantity in shows_end(step)
    ]
    if not showing:
        return ""
    try:
        refuse_end_not_read(step, record, now=now)
    except Refusal:
        return ""
    return ", ".join(quantity_title(one.quantity, one.typed) for one in showing)

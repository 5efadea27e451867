"""Verbs of the plates: send, read, close."""

from datetime import datetime, timedelta

from brewhygiene.atp.queries import brewery_day
from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import SamplingPoint
from brewhygiene.ledger.door import Actor, Written, verb
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.plates.queries import fills_at_risk
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when, lock_turnaround, raise_revision
from brewhygiene.turnarounds.models import Turnaround


@verb("send plate")
def send_plate(
    *,
    by: Actor,
    turnaround: Turnaround,
    point: SamplingPoint,
    medium: str,
    incubation_c: float,
    incubation_days: int,
    taken_at: datetime | None = None,
) -> Written[Plate]:
    """Record a sample sent to be grown: medium, °C and days, from which its due date follows."""
    user = require(by, "work_cellar")
    turnaround = lock_turnaround(turnaround)
    if point.vessel_id != turnaround.vessel_id:
        raise Refusal(f"{point.name} is no point of {turnaround.vessel.name}.", field="point")
    if not medium.strip():
        raise Refusal("Say which medium.", field="medium")
    if not 4 <= incubation_c <= 60:
        raise Refusal("Incubation lies between 4 and 60 °C.", field="incubation_c")
    if not 1 <= incubation_days <= 30:
        raise Refusal("Incubation takes 1 to 30 days.", field="incubation_days")
    taken_at = check_when(taken_at or by.now, by=by, field="taken_at")
    plate = Plate.objects.create(
        vessel=turnaround.vessel,
        turnaround=turnaround,
        point=point,
        medium=medium.strip(),
        incubation_c=incubation_c,
        incubation_days=incubation_days,
        taken_at=taken_at,
        due_on=brewery_day(taken_at + timedelta(days=incubation_days), Brewery.current()),
        sent_by=user,
    )
    raise_revision(turnaround)
    return Written(
        plate,
        {
            "point": point.name,
            "medium": plate.medium,
            "incubation_c": incubation_c,
            "incubation_days": incubation_days,
            "due_on": plate.due_on,
        },
        aggregate=turnaround,
    )


@verb("read plate")
def read_plate(
    *, by: Actor, plate: Plate, state: str, colonies: int | None = None, organism: str = ""
) -> Written[Plate]:
    """Record what grew. A positive plate holds the vessel and names the fills at risk."""
    user = require(by, "read_plates")
    lock_turnaround(plate.turnaround)
    plate = Plate.objects.select_related("turnaround__vessel", "point").get(pk=plate.pk)
    if plate.state != PlateState.PENDING:
        raise Refusal(
            f"{plate.read_by} read this plate already: {plate.state}.", code="already_read"
        )
    if state not in (PlateState.NEGATIVE, PlateState.POSITIVE):
        raise Refusal("Say negative or positive.", field="state")
    if state == PlateState.POSITIVE and not colonies:
        raise Refusal("How many colonies? A positive plate has at least one.", field="colonies")
    if state == PlateState.NEGATIVE and colonies:
        raise Refusal("A plate with colonies is positive.", field="state")
    if state == PlateState.NEGATIVE and brewery_day(by.now, Brewery.current()) < plate.due_on:
        raise Refusal(
            f"It is not due before {plate.due_on:%d %B}: a slow grower may still show.",
            field="state",
            code="too_early",
        )
    plate.state = state
    plate.colonies = colonies if state == PlateState.POSITIVE else 0
    plate.organism = organism.strip()[:100]
    plate.read_at = by.now
    plate.read_by = user
    plate.save()
    raise_revision(plate.turnaround)
    at_risk = [str(fill) for fill in fills_at_risk(plate)] if state == PlateState.POSITIVE else []
    return Written(
        plate,
        {
            "state": state,
            "colonies": plate.colonies,
            "organism": plate.organism,
            "fills_at_risk": at_risk,
        },
        aggregate=plate.turnaround,
    )


@verb("close positive plate")
def resolve_plate(*, by: Actor, plate: Plate, resolution: str, password: str) -> Written[Plate]:
    """Close a positive plate under a signature, saying what was done about it."""
    require(by, "decide_release")
    lock_turnaround(plate.turnaround)
    plate = Plate.objects.select_related("turnaround__vessel", "point").get(pk=plate.pk)
    if not plate.open_positive:
        raise Refusal("Only an open positive plate can be closed.", code="not_open")
    if not resolution.strip():
        raise Refusal("Say what was done about it.", field="resolution")
    plate.resolution_signature = sign(
        by=by, password=password, meaning=f"Closed positive plate of {plate.point}"[:200]
    )
    plate.resolution = resolution.strip()
    plate.resolved_at = by.now
    plate.save()
    raise_revision(plate.turnaround)
    return Written(plate, {"resolution": plate.resolution}, aggregate=plate.turnaround)

"""Actions of plates: send and read. Corrections and closing have rooms of their own."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import SampleKind, SamplingPoint
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.plates.neutralisers import Neutraliser, fits, taken_in
from brewhygiene.plates.queries import fills_at_risk
from brewhygiene.plates.questions import held_by_plate
from brewhygiene.plates.seen import Seen, checked_reading, dish_values, refuse_early, store_dishes
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.style import digits, told
from brewhygiene.refusals import Refusal
from brewhygiene.science.counting.colonies import Dish
from brewhygiene.turnarounds.actions import check_when, lock_turnaround, raise_revision
from brewhygiene.turnarounds.models import Turnaround


def _swab(
    point: SamplingPoint, suspension_ml: float | None, area_cm2: float | None
) -> tuple[float | None, float | None]:
    """A swab's suspension volume and area; the area is the point's own if none is given."""
    if suspension_ml is None and area_cm2 is None:
        return None, None
    if point.sample_kind != SampleKind.SURFACE:
        raise Refusal(
            f"{point.name} is a rinse point. Leave volume and area blank, or choose a surface "
            "point.",
            field="suspension_ml" if suspension_ml is not None else "area_cm2",
        )
    if suspension_ml is None:
        raise Refusal("Enter the suspension volume of the swab in mL.", field="suspension_ml")
    if not 0.1 <= suspension_ml <= 10_000:
        with told():
            words = f"Enter a volume from {digits(0.1, 'g')} to 10 000 mL."
        raise Refusal(words, field="suspension_ml")
    area_cm2 = point.area_cm2 if area_cm2 is None else area_cm2
    if area_cm2 is None or not 1 <= area_cm2 <= 10_000:
        raise Refusal("Enter an area from 1 to 10 000 cm².", field="area_cm2")
    return suspension_ml, area_cm2


@action("send plate")
def send_plate(
    *,
    by: Actor,
    turnaround: Turnaround,
    point: SamplingPoint,
    medium: str,
    neutraliser: str,
    incubation_c: float,
    incubation_days: int,
    taken_at: datetime | None = None,
    suspension_ml: float | None = None,
    area_cm2: float | None = None,
) -> Recorded[Plate]:
    """Record a sample to be incubated: medium, °C and days, which give its due date.

    ``neutraliser`` is what was put to it against the sanitiser that the vessel had then; where it
    does not fit, a plate on which nothing grows is no negative one. A swab suspended in
    ``suspension_ml`` is counted by area, the point's own if ``area_cm2`` is not given.
    """
    user = require(by, "work_cellar")
    turnaround = lock_turnaround(turnaround)
    if point.vessel_id != turnaround.vessel_id:
        raise Refusal(
            f"{point.name} does not belong to {turnaround.vessel.name}. Choose one of its points.",
            field="point",
        )
    if not medium.strip():
        raise Refusal("Enter the medium.", field="medium")
    if neutraliser not in Neutraliser.values:
        raise Refusal("Choose the neutraliser.", field="neutraliser")
    if not 4 <= incubation_c <= 60:
        raise Refusal("Enter a temperature from 4 to 60 °C.", field="incubation_c")
    if not 1 <= incubation_days <= 30:
        raise Refusal("Enter 1 to 30 days.", field="incubation_days")
    suspension_ml, area_cm2 = _swab(point, suspension_ml, area_cm2)
    taken_at = check_when(taken_at or by.now, by=by, field="taken_at")
    substance = taken_in(turnaround, taken_at)
    plate = Plate.objects.create(
        vessel=turnaround.vessel,
        turnaround=turnaround,
        point=point,
        medium=medium.strip(),
        incubation_c=incubation_c,
        incubation_days=incubation_days,
        suspension_ml=suspension_ml,
        area_cm2=area_cm2,
        taken_in=substance,
        neutraliser=neutraliser,
        neutralised=fits(neutraliser, substance),
        taken_at=taken_at,
        due_on=brewery_day(taken_at + timedelta(days=incubation_days), Brewery.current()),
        sent_by=user,
    )
    raise_revision(turnaround)
    swab = {"suspension_ml": suspension_ml, "area_cm2": area_cm2} if suspension_ml else {}
    return Recorded(
        plate,
        {
            "point": point.name,
            "medium": plate.medium,
            "incubation_c": incubation_c,
            "incubation_days": incubation_days,
            "due_on": plate.due_on,
            "neutraliser": neutraliser,
            "taken_in": substance,
            **swab,
        },
        aggregate=turnaround,
    )


@action("read plate")
def read_plate(
    *,
    by: Actor,
    plate: Plate,
    state: str = "",
    colonies: int | None = None,
    too_many: bool = False,
    organism: str = "",
    dishes: Sequence[Dish] = (),
) -> Recorded[Plate]:
    """Record what grew. A positive plate holds the vessel and lists the fills at risk.

    Either ``state`` with the number of ``colonies`` (or ``too_many`` to count), or ``dishes``,
    each with its dilution and volume, from which both follow.
    """
    require(by, "read_plates")
    lock_turnaround(plate.turnaround)
    plate = Plate.objects.select_related("turnaround__vessel", "point").get(pk=plate.pk)
    if plate.state != PlateState.PENDING:
        raise Refusal(
            f"{plate.read_by} has already read this plate: {plate.state}. Correct it instead.",
            code="already_read",
        )
    seen = checked_reading(
        state=state, colonies=colonies, too_many=too_many, organism=organism, dishes=dishes
    )
    refuse_early(plate, seen, by=by)
    set_reading(plate, seen, by=by, source=ValueSource.READ)
    plate.save()
    store_dishes(plate, seen, source=ValueSource.READ)
    raise_revision(plate.turnaround)
    positive = seen.state == PlateState.POSITIVE
    at_risk = [str(f) for f in fills_at_risk(plate)] if positive else []
    held = {"held": held_by_plate(by, plate)} if positive else {}
    return Recorded(
        plate,
        {
            "state": seen.state,
            "colonies": seen.colonies,
            "source": plate.source,
            "organism": seen.organism,
            "fills_at_risk": at_risk,
            **held,
            **dish_values(seen),
        },
        aggregate=plate.turnaround,
    )


def set_reading(plate: Plate, seen: Seen, *, by: Actor, source: ValueSource) -> None:
    """Set the reading on the plate, unsaved."""
    plate.state = seen.state
    plate.colonies = seen.colonies
    plate.source = source
    plate.organism = seen.organism
    plate.read_at = by.now
    plate.read_by = by.person

"""Correction of a misread plate; the first reading stays on record."""

from collections.abc import Sequence

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.plates.actions import set_reading
from brewhygiene.plates.growth import as_dishes, dishes_of
from brewhygiene.plates.models import Plate, PlateCorrection, PlateState
from brewhygiene.plates.queries import fills_at_risk
from brewhygiene.plates.questions import held_by_plate
from brewhygiene.plates.seen import checked_reading, dish_values, refuse_early, store_dishes
from brewhygiene.quantities.sources import source_of_correction
from brewhygiene.refusals import Refusal
from brewhygiene.science.counting.colonies import Dish
from brewhygiene.turnarounds.actions import lock_turnaround, raise_revision


@action("correct plate")
def correct_plate(
    *,
    by: Actor,
    plate: Plate,
    reason: str,
    state: str = "",
    colonies: int | None = None,
    too_many: bool = False,
    organism: str = "",
    dishes: Sequence[Dish] = (),
    password: str = "",
) -> Recorded[PlateCorrection]:
    """Record that a plate was misread, and what is on it; the first reading stays on record.

    A positive plate becomes negative only under a signature, and not once it is closed.
    """
    user = require(by, "read_plates")
    lock_turnaround(plate.turnaround)
    plate = Plate.objects.select_related("turnaround__vessel", "point", "read_by").get(pk=plate.pk)
    if plate.state == PlateState.PENDING or plate.read_at is None or plate.read_by is None:
        raise Refusal("This plate is not read yet. Record its reading first.", code="not_read")
    seen = checked_reading(
        state=state, colonies=colonies, too_many=too_many, organism=organism, dishes=dishes
    )
    if not reason.strip():
        raise Refusal("Enter a reason.", field="reason")
    refuse_early(plate, seen, by=by)
    before = as_dishes(dishes_of(plate))
    recorded = (plate.state, plate.colonies, plate.organism, before)
    if recorded == (seen.state, seen.colonies, seen.organism, list(seen.dishes)):
        raise Refusal("Enter a different reading. This one is already recorded.", code="same")
    was_positive = plate.state == PlateState.POSITIVE
    to_negative = was_positive and seen.state == PlateState.NEGATIVE
    if to_negative and plate.resolved_at is not None:
        raise Refusal(
            "This positive plate is closed under a signature, so it stays positive. You can "
            "correct its count.",
            field="state",
            code="closed",
        )
    signature = None
    if to_negative:
        meaning = f"Corrected a misread plate of {plate.point}: negative, not positive"
        signature = sign(by=by, password=password, meaning=meaning)
    source = source_of_correction(plate.source)
    correction = PlateCorrection.objects.create(
        plate=plate,
        was_state=plate.state,
        was_colonies=plate.colonies,
        was_source=plate.source,
        was_organism=plate.organism,
        was_read_at=plate.read_at,
        was_read_by=plate.read_by,
        is_state=seen.state,
        is_colonies=seen.colonies,
        source=source,
        reason=reason.strip()[:200],
        signature=signature,
        corrected_at=by.now,
        corrected_by=user,
    )
    plate.dishes.filter(replaced_by__isnull=True).update(replaced_by=correction)
    set_reading(plate, seen, by=by, source=source)
    plate.save()
    store_dishes(plate, seen, source=source)
    raise_revision(plate.turnaround)
    opened = seen.state == PlateState.POSITIVE and not was_positive
    return Recorded(
        correction,
        {
            "plate": plate.pk,
            "was": {"state": correction.was_state, "colonies": correction.was_colonies},
            "is": {"state": seen.state, "colonies": seen.colonies},
            "source": source,
            "organism": seen.organism,
            "reason": correction.reason,
            "fills_at_risk": [str(fill) for fill in fills_at_risk(plate)] if opened else [],
            **({"held": held_by_plate(by, plate)} if opened else {}),
            **dish_values(seen),
        },
        aggregate=plate.turnaround,
    )

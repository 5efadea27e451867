"""Setting a misread plate right: what was read first stays beside it."""

from collections.abc import Sequence

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.plates.actions import take_reading
from brewhygiene.plates.growth import as_dishes, dishes_of
from brewhygiene.plates.models import Plate, PlateCorrection, PlateState
from brewhygiene.plates.queries import fills_at_risk
from brewhygiene.plates.seen import dish_values, keep_dishes, refuse_early, what_was_seen
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

    One that was positive becomes negative only under a signature, and not once it was closed:
    what was done about it hangs on it.
    """
    user = require(by, "read_plates")
    lock_turnaround(plate.turnaround)
    plate = Plate.objects.select_related("turnaround__vessel", "point", "read_by").get(pk=plate.pk)
    if plate.state == PlateState.PENDING or plate.read_at is None or plate.read_by is None:
        raise Refusal("Nobody has read this plate yet.", code="not_read")
    seen = what_was_seen(
        state=state, colonies=colonies, too_many=too_many, organism=organism, dishes=dishes
    )
    if not reason.strip():
        raise Refusal("Say how it came to be misread.", field="reason")
    refuse_early(plate, seen, by=by)
    before = as_dishes(dishes_of(plate))
    now_and_then = (
        (seen.state, seen.colonies, seen.organism, list(seen.dishes)),
        (plate.state, plate.colonies, plate.organism, before),
    )
    if now_and_then[0] == now_and_then[1]:
        raise Refusal("That is what is on record already.", code="same")
    was_positive = plate.state == PlateState.POSITIVE
    to_negative = was_positive and seen.state == PlateState.NEGATIVE
    if to_negative and plate.resolved_at is not None:
        raise Refusal(
            "This positive plate was closed under a signature, so it stays positive. Its count "
            "can be put right.",
            field="state",
            code="closed",
        )
    signature = None
    if to_negative:
        meaning = f"Corrected a misread plate of {plate.point}: negative, not positive"
        signature = sign(by=by, password=password, meaning=meaning[:200])
    correction = PlateCorrection.objects.create(
        plate=plate,
        was_state=plate.state,
        was_colonies=plate.colonies,
        was_organism=plate.organism,
        was_read_at=plate.read_at,
        was_read_by=plate.read_by,
        is_state=seen.state,
        is_colonies=seen.colonies,
        reason=reason.strip()[:200],
        signature=signature,
        corrected_at=by.now,
        corrected_by=user,
    )
    plate.dishes.filter(replaced_by__isnull=True).update(replaced_by=correction)
    take_reading(plate, seen, by=by)
    plate.save()
    keep_dishes(plate, seen)
    raise_revision(plate.turnaround)
    opened = seen.state == PlateState.POSITIVE and not was_positive
    return Recorded(
        correction,
        {
            "plate": plate.pk,
            "was": {"state": correction.was_state, "colonies": correction.was_colonies},
            "is": {"state": seen.state, "colonies": seen.colonies},
            "organism": seen.organism,
            "reason": correction.reason,
            "fills_at_risk": [str(fill) for fill in fills_at_risk(plate)] if opened else [],
            **dish_values(seen),
        },
        aggregate=plate.turnaround,
    )

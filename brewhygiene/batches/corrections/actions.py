"""Correct a mistyped batch number, or the number and the volume of a lot."""

from collections.abc import Mapping, Sequence

from brewhygiene.batches.brews.actions import TOLERANCE
from brewhygiene.batches.brews.filled import batch_named
from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.lots.actions import MOST_UNITS, units_shipped
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.corrections import BrewCorrection, SignedCorrection
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.models.movements import MovementKind
from brewhygiene.batches.numbers import key_of, tidy
from brewhygiene.cellar.models import Fill
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.style import digits, told
from brewhygiene.refusals import Refusal


def refuse_without_reason(reason: str) -> None:
    """Refuse a correction that nobody gives a reason for."""
    if not reason.strip():
        raise Refusal("Enter a reason.", field="reason")


def refuse_stale(
    corrections: Sequence[SignedCorrection], revision_seen: int, *, fields: Mapping[str, str]
) -> None:
    """Refuse to correct what somebody else corrected while this form was open.

    ``revision_seen`` is how many corrections its page knew of. Said beside the first field that
    the other one changed: ``fields`` has it by the name in the record, where that differs.
    """
    if len(corrections) == revision_seen:
        return
    last = corrections[-1]
    name = last.changed[0][0]
    raise Refusal(
        f"{last.signature.printed_name} corrected this while the form was open: {last.reason}. "
        "Compare it with what you entered before you sign.",
        field=fields.get(name, name),
        code="stale",
    )


def _refuse_unless_said(number: str, reason: str, *, missing: str) -> None:
    if not number.strip():
        raise Refusal(missing, field="number")
    refuse_without_reason(reason)


@action("correct batch")
def correct_batch(*, by: Actor, batch: Batch, number: str, reason: str) -> Recorded[BrewCorrection]:
    """Correct the number of a batch; its vessels, lots, holds and traces go with it."""
    user = require(by, "work_cellar")
    batch = Batch.objects.select_for_update(of=("self",)).get(pk=batch.pk)
    _refuse_unless_said(number, reason, missing="Enter the batch.")
    known = batch_named(number)
    if known is not None and known != batch:
        raise Refusal(
            f"Batch {known.number} is already recorded: {known.beer}. Enter another number.",
            field="number",
            code="twice",
        )
    was, number = batch.number, tidy(number)
    if was == number:
        raise Refusal("Enter a different number. This one is recorded.", field="number")
    batch.number, batch.number_key = number, key_of(number)
    batch.save()
    # One that is in no vessel yet has none.
    if fills := list(batch.filled.values_list("fill", flat=True)):
        Fill.objects.filter(pk__in=fills).update(batch=number)
    correction = BrewCorrection.objects.create(
        batch=batch,
        was_number=was,
        is_number=number,
        reason=reason.strip()[:200],
        corrected_at=by.now,
        corrected_by=user,
    )
    return Recorded(
        correction, {"was": was, "is": number, "reason": correction.reason}, aggregate=batch
    )


def _check_volume(lot: Lot, *, units: int, unit_l: float) -> None:
    """Refuse fewer units than were shipped, and more beer than its vessel had."""
    if not 0 < unit_l <= 10_000:
        raise Refusal("Enter a volume above 0.", field="unit_l")
    if not 1 <= units <= MOST_UNITS:
        raise Refusal(f"Enter 1 to {MOST_UNITS} units.", field="units")
    shipped = units_shipped(lot)
    if units < shipped:
        raise Refusal(
            f"{shipped} units of lot {lot.number} were shipped. Enter at least that.",
            field="units",
            code="unbalanced",
        )
    for packaged in lot.origins.filter(kind=MovementKind.PACKAGE).select_related("from_fill"):
        fill = packaged.from_fill
        assert fill is not None
        more = units * unit_l / 100 - lot.volume_hl
        left = left_in(fill)
        if more > 0 and more > left + fill.volume_hl * TOLERANCE:
            with told():
                raise Refusal(
                    f"More would be packaged than was in the vessel: {digits(more, '.3g')} hL "
                    f"more of {digits(left, '.3g')} "
                    "hL left. Check the units and the volume.",
                    field="units",
                    code="unbalanced",
                )


@action("correct lot")
def correct_lot(
    *, by: Actor, lot: Lot, number: str, units: int, unit_l: float, reason: str
) -> Recorded[BrewCorrection]:
    """Correct the number, the units and their volume of a lot; the volumes are balanced anew."""
    user = require(by, "work_cellar")
    lot = Lot.objects.select_for_update(of=("self",)).get(pk=lot.pk)
    _refuse_unless_said(number, reason, missing="Enter the lot number.")
    if Lot.objects.filter(number_key=key_of(number)).exclude(pk=lot.pk).exists():
        raise Refusal(
            f"Lot {tidy(number)} is already recorded. Enter another number.",
            field="number",
            code="twice",
        )
    was = (lot.number, lot.units, lot.unit_l)
    if was == (tidy(number), units, unit_l):
        raise Refusal("Enter something different. This is recorded.", field="number")
    _check_volume(lot, units=units, unit_l=unit_l)
    lot.number, lot.number_key = tidy(number), key_of(number)
    lot.units, lot.unit_l = units, unit_l
    lot.save()
    lot.origins.filter(kind=MovementKind.PACKAGE).update(volume_hl=lot.volume_hl)
    correction = BrewCorrection.objects.create(
        lot=lot,
        was_number=was[0],
        was_units=was[1],
        was_unit_l=was[2],
        is_number=lot.number,
        is_units=units,
        is_unit_l=unit_l,
        reason=reason.strip()[:200],
        corrected_at=by.now,
        corrected_by=user,
    )
    return Recorded(
        correction,
        {
            "was": list(was),
            "is": [lot.number, units, unit_l],
            "volume_hl": lot.volume_hl,
            "reason": correction.reason,
        },
        aggregate=lot,
    )

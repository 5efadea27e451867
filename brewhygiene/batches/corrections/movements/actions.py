"""Correct a movement: its volume, its time, where it came from or went, and of which batch."""

from datetime import datetime

from brewhygiene.batches.corrections.actions import refuse_stale, refuse_without_reason
from brewhygiene.batches.corrections.movements.planning import Plan, checked, what_is_wanted
from brewhygiene.batches.corrections.movements.reaching import (
    follow,
    note_left_behind,
    plates_behind,
    reach_of,
    spread_on,
)
from brewhygiene.batches.corrections.movements.standing import (
    CORRECTED_KINDS,
    as_it_stands,
    loaded,
    words_of,
)
from brewhygiene.batches.corrections.movements.writing import write
from brewhygiene.batches.holds import hold_where_crossed
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.corrections import MovementCorrection
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.models import Turnaround

# The fields of the form, by their names in the record where those differ.
FIELDS = {"from": "vessel", "from_batch": "vessel", "to": "to_vessel"}


@action("correct movement")
def correct_movement(
    *,
    by: Actor,
    movement: Movement,
    moved_at: datetime,
    reason: str,
    password: str,
    revision_seen: int,
    volume_hl: float | None = None,
    loss_hl: float | None = None,
    loss_reason: str | None = None,
    vessel: Vessel | None = None,
    to_vessel: Vessel | None = None,
    batch: str = "",
) -> Recorded[MovementCorrection]:
    """Correct what a brewing, a transfer, a packaging or a dump was recorded as, signed.

    ``vessel`` is where it came from, ``to_vessel`` and ``batch`` what it filled; what is ``None``
    or blank stays. Volumes are in hL; a lot's own is corrected with the lot.
    """
    require(by, "work_cellar")
    refuse_without_reason(reason)
    movement = loaded(movement.pk)
    if movement.kind not in CORRECTED_KINDS:
        raise Refusal("A movement of this kind cannot be corrected.", code="kind")
    signed = movement.corrections.select_related("signature").order_by("pk")
    refuse_stale(list(signed), revision_seen, fields=FIELDS)
    stands = as_it_stands(movement)
    wanted = what_is_wanted(
        stands,
        by=by,
        moved_at=moved_at,
        volume_hl=volume_hl if movement.kind != MovementKind.PACKAGE else None,
        loss_hl=loss_hl,
        loss_reason=loss_reason,
        vessel=vessel,
        to_vessel=to_vessel,
        batch=batch,
    )
    if wanted == stands:
        raise Refusal("Enter something different. This is recorded.", code="same")
    plan = checked(movement, stands, wanted)
    was, was_batch = words_of(movement), _batch_of(movement)
    old_source = movement.from_fill.of_batch.batch if movement.from_fill else None
    was_turnaround = (
        Turnaround.objects.filter(closing_fill=movement.to_fill).first()
        if plan.turnaround
        else None
    )
    touched = touched_by(movement, plan)
    before = reach_of(plates_behind(touched))
    write(movement, plan, by=by)
    movement = loaded(movement.pk)
    correction = MovementCorrection.objects.create(
        movement=movement,
        was=was,
        became=words_of(movement),
        was_batch=was_batch if plan.batch is not None else old_source if plan.source else None,
        was_turnaround=was_turnaround,
        reason=reason.strip()[:200],
        corrected_at=by.now,
        signature=sign(by=by, password=password, meaning=f"Correct: {movement}"[:200]),
    )
    held = _hold(movement, plan, correction, was_batch, old_source, by=by)
    held += follow(before, {*touched, *touched_by(movement, plan)}, correction, by=by)
    return Recorded(
        correction,
        {
            "was": was,
            "became": correction.became,
            "reason": correction.reason,
            "moved_with_it": [str(fill) for fill in plan.fills[1:]],
            "held": held,
            "signed_by": by.name,
        },
        aggregate=_batch_of(movement) or movement.to_lot or movement.from_crop,
    )


def _batch_of(movement: Movement) -> Batch | None:
    """The batch that was filled, or packaged, or dumped."""
    fill = movement.to_fill or movement.from_fill
    return fill.of_batch.batch if fill is not None else None


def touched_by(movement: Movement, plan: Plan) -> set[int]:
    """The movements by which what a correction changes is reached, by key."""
    fills = {fill.pk for fill in plan.fills}
    fills |= {pk for pk in (movement.to_fill_id, movement.from_fill_id) if pk}
    if plan.source is not None:
        fills.add(plan.source.fill_id)
    every = Movement.objects.filter(from_fill__in=fills) | Movement.objects.filter(
        to_fill__in=fills
    )
    return {movement.pk, *every.values_list("pk", flat=True)}


def _hold(
    movement: Movement,
    plan: Plan,
    correction: MovementCorrection,
    was_batch: Batch | None,
    old_source: Batch | None,
    *,
    by: Actor,
) -> list[str]:
    """Holds by hand go with the beer; what no longer comes of a held batch says so."""
    target = _batch_of(movement)
    if movement.to_fill is None or target is None:
        return []
    already = set(target.holds.values_list("pk", flat=True))
    if plan.batch is not None and was_batch is not None:
        spread_on(was_batch, target, by=by)
        if was_batch.beer_id != target.beer_id:
            for fill in Fill.objects.filter(pk__in=[one.pk for one in plan.fills]):
                hold_where_crossed(fill, target, by=by)
    if plan.source is not None:
        if plan.source.batch != target:
            spread_on(plan.source.batch, target, by=by)
        if old_source is not None and old_source not in (plan.source.batch, target):
            note_left_behind(old_source, target, correction)
    return [hold.about for hold in target.holds.exclude(pk__in=already)]

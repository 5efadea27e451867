"""Actions of a recall drill: begin it, end it with what was counted."""

from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.lots.actions import units_shipped
from brewhygiene.batches.models.lots import Lot, RecallDrill
from brewhygiene.batches.recall.ways import both_ways
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.words import counted
from brewhygiene.refusals import Refusal


@action("begin recall drill")
def begin_drill(*, by: Actor, lot: Lot) -> Recorded[RecallDrill]:
    """Begin a recall drill of a lot; the server's clock runs from now."""
    user = require(by, "decide_release")
    lot = Lot.objects.select_for_update(of=("self",)).get(pk=lot.pk)
    if lot.drills.filter(ended_at__isnull=True).exists():
        raise Refusal("A drill of this lot is running. End it first.", code="running")
    drill = RecallDrill.objects.create(lot=lot, started_at=by.now, started_by=user)
    return Recorded(drill, {"lot": lot.number, "started_at": by.now}, aggregate=lot)


@action("end recall drill")
def end_drill(
    *, by: Actor, drill: RecallDrill, in_stock: int, lost: int, explanation: str = ""
) -> Recorded[RecallDrill]:
    """End a drill with the units counted in stock and those lost; a difference is explained."""
    user = require(by, "decide_release")
    drill = (
        RecallDrill.objects.select_for_update(of=("self",))
        .select_related("lot__batch")
        .get(pk=drill.pk)
    )
    if drill.ended_at is not None:
        raise Refusal("This drill has ended.", code="ended")
    for field, units in (("in_stock", in_stock), ("lost", lost)):
        if not 0 <= units <= drill.lot.units:
            raise Refusal(f"Enter 0 to {drill.lot.units} units.", field=field, code="unbalanced")
    shipped = units_shipped(drill.lot)
    difference = drill.lot.units - shipped - in_stock - lost
    if difference and not explanation.strip():
        words = "missing" if difference > 0 else "too many"
        raise Refusal(
            f"{counted(abs(difference), 'unit')} {words}: {drill.lot.units} produced, "
            f"{shipped} shipped, "
            f"{in_stock} in stock, {lost} lost. Enter where the difference comes from.",
            field="explanation",
            code="unbalanced",
        )
    drill.ended_at, drill.ended_by = by.now, user
    drill.in_stock, drill.lost, drill.explanation = in_stock, lost, explanation.strip()
    drill.found = {
        **both_ways(drill.lot),
        "units": {
            "produced": drill.lot.units,
            "shipped": shipped,
            "in_stock": in_stock,
            "lost": lost,
            "difference": difference,
        },
        "volumes": balance_of(drill.lot.batch).parts,
    }
    drill.save()
    seconds = round((by.now - drill.started_at).total_seconds())
    return Recorded(
        drill,
        {"lot": drill.lot.number, "seconds": seconds, **drill.found, "why": drill.explanation},
        aggregate=drill.lot,
    )

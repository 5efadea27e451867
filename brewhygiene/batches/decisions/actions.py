"""The signed decision on one hold: of a batch, of a yeast crop, or of the rest of a trace."""

from brewhygiene.batches.holds import open_holds
from brewhygiene.batches.models.holds import ENDING, Choice, Hold, HoldDecision
from brewhygiene.batches.models.lots import Shipment
from brewhygiene.batches.trace.ranks import trace_of
from brewhygiene.brewery.actions import locked_brewery
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.changes import change
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.refusals import Refusal


@action("decide hold")
def decide(
    *, by: Actor, hold: Hold, choice: str, reason: str, password: str
) -> Recorded[HoldDecision]:
    """Decide one hold with a reason, signed: hold, sample, release, destroy or recall.

    The last three end it. Neither the vessel's hold nor that of another batch changes with it.
    """
    require(by, "decide_release")
    hold = Hold.objects.select_for_update(of=("self",)).get(pk=hold.pk)
    if hold.ended_at is not None:
        raise Refusal(
            f"This hold has ended: {hold.get_outcome_display()}. Nothing was signed.",
            code="ended",
        )
    if not open_holds().filter(pk=hold.pk).exists():
        raise Refusal("The plate of this hold is no longer positive.", code="not_positive")
    if choice not in Choice.values:
        raise Refusal("Choose a decision.", field="choice")
    if choice == Choice.RECALL and not _shipped(hold):
        raise Refusal(
            f"Nothing of {hold.about} was shipped, so there is nothing to recall. "
            "Choose another decision.",
            field="choice",
            code="nothing_shipped",
        )
    if not reason.strip():
        raise Refusal("Enter a reason.", field="reason", code="no_reason")
    covers = _covers(hold)
    decision = HoldDecision.objects.create(
        hold=hold,
        choice=choice,
        reason=reason.strip(),
        decided_at=by.now,
        signature=sign(
            by=by, password=password, meaning=f"{choice.capitalize()}: {hold.about}"[:200]
        ),
        covers=covers,
    )
    if choice in ENDING:
        hold.ended_at, hold.outcome = by.now, choice
        hold.save(update_fields=["ended_at", "outcome"])
    return Recorded(
        decision,
        {
            "about": hold.about,
            "plate": str(hold.plate) if hold.plate else None,
            "decision": choice,
            "reason": decision.reason,
            "covers": covers,
            "signed_by": by.name,
        },
        aggregate=hold.batch or hold.crop or hold.plate,
    )


def _shipped(hold: Hold) -> bool:
    """Whether anything that it is about went to a customer."""
    if hold.batch is not None:
        return Shipment.objects.filter(lot__batch=hold.batch).exists()
    if hold.crop is not None or hold.plate is None:
        return False
    through = [
        lot.pk for one in trace_of(hold.plate).passed_through for lot in getattr(one, "lots", ())
    ]
    return Shipment.objects.filter(lot__in=through).exists()


def _covers(hold: Hold) -> list[str]:
    """What else a decision is about as it stands: the lots of a batch, or all of the rest."""
    if hold.batch is not None:
        return [f"lot {lot.number}" for lot in hold.batch.lots.order_by("pk")]
    if hold.crop is not None or hold.plate is None:
        return []
    return trace_of(hold.plate).rest


@action("set rule of trace")
def set_trace_rule(*, by: Actor, clean_frees_equipment: bool, password: str) -> Recorded[Brewery]:
    """Set whether a released clean frees equipment in a trace, or only a negative plate."""
    require(by, "edit_setup")
    sign(by=by, password=password, meaning="Set the rule of the trace")
    brewery = locked_brewery()
    changed = change(brewery, clean_frees_equipment=clean_frees_equipment)
    brewery.save()
    return Recorded(brewery, changed)

"""The action of a dump: beer or yeast that is destroyed."""

from collections.abc import Sequence
from datetime import datetime

from brewhygiene.batches.brews.queries import fill_at
from brewhygiene.batches.holds import Held, holds_of, refuse_held
from brewhygiene.batches.models.batches import BatchFill, YeastCrop
from brewhygiene.batches.models.dumps import Dump, DumpReason, Went
from brewhygiene.batches.models.holds import Choice, Hold, HoldDecision
from brewhygiene.batches.models.movements import MovementKind
from brewhygiene.batches.moving import keep_movement
from brewhygiene.batches.transfers.actions import (
    Drawn,
    check_drawn,
    check_equipment,
    empty_source,
)
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.quantities.style import digits
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when

# What ends a hold so that nothing is left to do with it but to dump it.
CONDEMNED = (Choice.DESTROY, Choice.RECALL)


def condemned_by(subject: Held) -> HoldDecision | None:
    """The last signed decision that a batch or a crop is destroyed or recalled. 2 queries."""
    signed = [
        decision
        for hold in holds_of(subject)
        if hold.outcome in CONDEMNED
        for decision in hold.decisions.all()
        if decision.choice in CONDEMNED
    ]
    return max(signed, key=lambda one: (one.decided_at, one.pk), default=None)


def _check_words(why: str, why_note: str, went: str, went_note: str) -> None:
    if why not in DumpReason.values:
        raise Refusal("Choose why.", field="why")
    if why == DumpReason.OTHER and not why_note.strip():
        raise Refusal("Enter why it is dumped.", field="why_note", code="no_reason")
    if went not in Went.values:
        raise Refusal("Choose where it went.", field="went")
    if went == Went.DRAIN and not went_note.strip():
        raise Refusal(
            "Enter the consent to put it down the drain, or who gave it.",
            field="went_note",
            code="no_consent",
        )


def source_of(link: BatchFill) -> Fill | YeastCrop:
    """What is dumped: the yeast of a yeast vessel, the beer of any other. 1 query."""
    crop = YeastCrop.objects.select_related("vessel").filter(fill=link.fill_id).first()
    return crop or link.fill


def hold_before_dump(vessel: Vessel) -> Hold | None:
    """The open hold that has to be decided before anything of a vessel is dumped. 6 queries."""
    links = BatchFill.objects.select_related("batch", "fill")
    link = links.filter(fill__vessel=vessel, fill__emptying__isnull=True).first()
    if link is None:
        return None
    source = source_of(link)
    subject = source if isinstance(source, YeastCrop) else link.batch
    if condemned_by(subject) is not None:
        return None
    return holds_of(subject).filter(ended_at__isnull=True).first()


@action("dump")
def dump(
    *,
    by: Actor,
    vessel: Vessel,
    volume_hl: float,
    dumped_at: datetime,
    why: str,
    went: str,
    password: str,
    why_note: str = "",
    went_note: str = "",
    empties: bool = False,
    through: Sequence[Vessel] = (),
) -> Recorded[Dump]:
    """Dump what a vessel contains, ``volume_hl`` hL of it, signed.

    What is held is dumped only once somebody has signed that it is destroyed or recalled.
    """
    require(by, "work_cellar")
    dumped_at = check_when(dumped_at, by=by, field="dumped_at")
    _check_words(why, why_note, went, went_note)
    check_equipment(through)
    link = fill_at(vessel, dumped_at, field="dumped_at")
    source = source_of(link)
    subject = source if isinstance(source, YeastCrop) else link.batch
    decision = condemned_by(subject)
    if decision is None:
        refuse_held(subject)
    elif dumped_at < decision.decided_at.replace(second=0, microsecond=0):
        raise Refusal(
            "It was still held at that time. Enter a time after the decision.",
            field="dumped_at",
            code="held",
        )
    drawn = Drawn(vessel, volume_hl, empties=empties)
    try:
        check_drawn(drawn, link)
    except Refusal as refusal:
        # No loss is asked for: what is left is in the vessel, or was dumped too.
        field = "volume_hl" if refusal.field == "loss_hl" else refusal.field
        message = refusal.message.replace("Enter the loss", "Enter all that was dumped")
        raise Refusal(message, field=field, code=refusal.code) from refusal
    movement = keep_movement(
        by=by,
        kind=MovementKind.DUMP,
        moved_at=dumped_at,
        source=source,
        target=None,
        through=through,
        volume_hl=volume_hl,
    )
    dumped = Dump.objects.create(
        movement=movement,
        why=why,
        why_note=why_note.strip(),
        went=went,
        went_note=went_note.strip(),
        decision=decision,
        signature=sign(
            by=by,
            password=password,
            meaning=f"Dump: {digits(volume_hl, 'g')} hL of {subject}"[:200],
        ),
    )
    empty_source(drawn, by=by, at=dumped_at)
    return Recorded(
        dumped,
        {
            "vessel": vessel.name,
            "what": str(subject),
            "volume_hl": volume_hl,
            "dumped_at": dumped_at,
            "why": why,
            "why_note": dumped.why_note,
            "went": went,
            "went_note": dumped.went_note,
            "decision": decision.pk if decision else None,
            "through": [one.name for one in through],
            "empties": empties,
            "signed_by": by.name,
        },
        aggregate=subject,
    )

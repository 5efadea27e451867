"""The action of a transfer: beer from one vessel, or from two that are blended, into another."""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import datetime

from brewhygiene.batches.brews.actions import TOLERANCE
from brewhygiene.batches.brews.filled import batch_named, make_batch
from brewhygiene.batches.brews.kin import ancestors_of
from brewhygiene.batches.brews.queries import fill_at, left_in
from brewhygiene.batches.holds import refuse_gone, spread
from brewhygiene.batches.models.batches import Batch, BatchFill
from brewhygiene.batches.models.movements import MovementKind
from brewhygiene.batches.moving import keep_movement
from brewhygiene.batches.numbers import key_of, tidy
from brewhygiene.cellar.models import GONE_THROUGH, Fill, Vessel
from brewhygiene.changeovers.crossing import refuse_crossing, refuse_mixing
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.quantities.style import digits, told
from brewhygiene.refusals import Refusal
from brewhygiene.release import actions as release_actions
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.actions import check_when
from brewhygiene.turnarounds.models import Turnaround

# The fields of a filling, by those of a transfer.
FIELDS = {None: "to_vessel", "filled_at": "moved_at", "beer": "to_vessel"}


@dataclasses.dataclass(frozen=True)
class Drawn:
    """What is drawn from one vessel, hL; ``loss_hl`` of it does not arrive."""

    vessel: Vessel
    volume_hl: float
    loss_hl: float = 0
    loss_reason: str = ""
    empties: bool = False
    suffix: str = ""  # of its fields in the form


def check_equipment(through: Sequence[Vessel]) -> None:
    """Refuse to call a tank what beer went through on its way."""
    for vessel in through:
        if vessel.kind not in GONE_THROUGH:
            raise Refusal(
                f"{vessel.name} contains beer, so it is no hose. Record a transfer into it.",
                field="through",
            )


def check_drawn(drawn: Drawn, link: BatchFill) -> None:
    """Refuse more out than went in, or a vessel called empty of which too much is missing."""
    field, loss = f"volume_hl{drawn.suffix}", f"loss_hl{drawn.suffix}"
    if drawn.volume_hl <= 0:
        raise Refusal("Enter a volume above 0.", field=field)
    if drawn.loss_hl < 0:
        raise Refusal("Enter a loss of 0 or more.", field=loss)
    if drawn.loss_hl and not drawn.loss_reason.strip():
        raise Refusal("Enter where the loss went.", field=f"loss_reason{drawn.suffix}")
    left, spare = left_in(link.fill), link.fill.volume_hl * TOLERANCE
    out = drawn.volume_hl + drawn.loss_hl
    if out > left + spare:
        with told():
            raise Refusal(
                f"More would leave {drawn.vessel.name} than is in it: {digits(out, '.4g')} hL of "
                f"{digits(left, '.4g')} hL. "
                "Check the volume and the loss.",
                field=field,
                code="unbalanced",
            )
    if drawn.empties and left - out > spare:
        with told():
            raise Refusal(
                f"{digits(left - out, '.3g')} hL of {drawn.vessel.name} are not accounted for. "
                "Enter the loss, "
                "or leave the vessel as not empty.",
                field=loss,
                code="unbalanced",
            )


def empty_source(drawn: Drawn, *, by: Actor, at: datetime) -> None:
    """Record the emptying that ended the movement."""
    if drawn.empties:
        turnaround_actions.empty_vessel(by=by.inner(), vessel=drawn.vessel, emptied_at=at)


@action("transfer beer")
def transfer(
    *,
    by: Actor,
    sources: Sequence[Drawn],
    to_vessel: Vessel,
    moved_at: datetime,
    through: Sequence[Vessel] = (),
    batch: str = "",
) -> Recorded[Fill]:
    """Transfer beer into a released vessel, which is a filling of it; volumes in hL.

    ``batch`` is the number that it has there: the source's if none is given. Two sources of
    different batches are a blend, which has a number of its own.
    """
    require(by, "fill_vessel")
    moved_at = check_when(moved_at, by=by, field="moved_at")
    check_equipment(through)
    if len({drawn.vessel.pk for drawn in sources}) < len(sources):
        raise Refusal("Choose two different vessels.", field="vessel_2")
    links: list[BatchFill] = []
    for drawn in sources:
        field = f"vessel{drawn.suffix}" if drawn.suffix else "moved_at"
        link = fill_at(drawn.vessel, moved_at, field=field)
        if drawn.vessel.pk == to_vessel.pk:
            raise Refusal(
                f"{to_vessel.name} would be filled from itself. Choose another vessel.",
                field="to_vessel",
                code="circle",
            )
        refuse_gone(link.batch, field=field)
        check_drawn(drawn, link)
        links.append(link)
    turnaround = _open_turnaround(to_vessel)
    number = _number(by, batch, links, moved_at, sum(drawn.volume_hl for drawn in sources))
    fill = _filled(by, turnaround, number, sources, moved_at)
    target = fill.of_batch.batch
    refuse_crossing(target.beer, until=moved_at, through=through)
    for drawn, link in zip(sources, links, strict=True):
        refuse_mixing(
            link.batch.beer,
            target.beer,
            what=f"Batch {link.batch.number}",
            field=f"vessel{drawn.suffix}" if drawn.suffix else "batch",
        )
    for drawn, link in zip(sources, links, strict=True):
        keep_movement(
            by=by,
            kind=MovementKind.TRANSFER,
            moved_at=moved_at,
            source=link.fill,
            target=fill,
            through=through,
            volume_hl=drawn.volume_hl,
            loss_hl=drawn.loss_hl,
            loss_reason=drawn.loss_reason.strip(),
        )
        empty_source(drawn, by=by, at=moved_at)
    spread([link.batch for link in links if link.batch != target], target, by=by)
    return Recorded(
        fill,
        {
            "from": [
                {
                    "vessel": drawn.vessel.name,
                    "batch": link.batch.number,
                    "volume_hl": drawn.volume_hl,
                    "loss_hl": drawn.loss_hl,
                    "loss_reason": drawn.loss_reason.strip(),
                }
                for drawn, link in zip(sources, links, strict=True)
            ],
            "to": to_vessel.name,
            "batch": target.number,
            "through": [vessel.name for vessel in through],
            "moved_at": moved_at,
        },
        aggregate=target,
    )


def _open_turnaround(vessel: Vessel) -> Turnaround:
    turnaround = vessel.turnarounds.filter(closed_at__isnull=True).first()
    if turnaround is None:
        raise Refusal(
            f"{vessel.name} is not released: it is in use, or not on record yet. Empty and clean "
            "it first.",
            field="to_vessel",
            code="not_released",
        )
    return turnaround


def _number(
    by: Actor, typed: str, links: Sequence[BatchFill], moved_at: datetime, volume_hl: float
) -> str:
    """The number of the batch at its end; a new one is a blend, written here."""
    batches = {link.batch_id: link.batch for link in links}
    first = links[0].batch
    if not typed.strip():
        if len(batches) > 1:
            raise Refusal("Enter a batch number for the blend.", field="batch", code="blend")
        return first.number
    if len(batches) == 1 and key_of(typed) == first.number_key:
        return first.number
    known = batch_named(typed)
    if known is None:
        beer = first.beer
        made = make_batch(
            by=by,
            number=tidy(typed),
            beer=beer,
            brewed_at=moved_at,
            volume_hl=volume_hl,
            blended=True,
        )
        return made.number
    refuse_return(known, batches.values())
    return known.number


def refuse_return(known: Batch, sources: Iterable[Batch], *, field: str = "batch") -> None:
    """Refuse to pour what comes of a batch into that batch again."""
    for source in sources:
        if source != known and known in ancestors_of(source):
            raise Refusal(
                f"Batch {source.number} comes from batch {known.number}, so it cannot become it "
                "again. Enter a new number for the blend.",
                field=field,
                code="circle",
            )


def _filled(
    by: Actor, turnaround: Turnaround, number: str, sources: Sequence[Drawn], moved_at: datetime
) -> Fill:
    """Fill the vessel by the rules of filling; what it refuses is said beside our fields."""
    known = batch_named(number)
    assert known is not None
    try:
        return release_actions.fill_vessel(
            by=by.inner(),
            turnaround=turnaround,
            beer=known.beer,
            batch=number,
            volume_hl=sum(drawn.volume_hl for drawn in sources),
            filled_at=moved_at,
            through=None,
        )
    except Refusal as refusal:
        field = FIELDS.get(refusal.field, refusal.field)
        raise Refusal(refusal.message, field=field, code=refusal.code) from refusal

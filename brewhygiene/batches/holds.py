"""Which batches and crops are held, and how holds come to be. Writes are called inside actions."""

from collections.abc import Iterable, Sequence

from django.db.models import Q, QuerySet

from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.holds import Choice, Hold, Rank
from brewhygiene.batches.trace.ranks import BatchAtRisk, bounds_of, trace_of
from brewhygiene.cellar.cultures import CultureUse, forbids
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.changeovers.crossing import crossings
from brewhygiene.ledger.recording import Actor
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.refusals import Refusal

Held = Batch | YeastCrop


def standing_holds() -> QuerySet[Hold]:
    """Holds that count: by hand, or by a plate that is positive still. 1 query."""
    return Hold.objects.filter(
        Q(plate__isnull=True) | Q(plate__state=PlateState.POSITIVE)
    ).select_related("plate__point__vessel", "batch__beer", "crop", "held_by")


def open_holds() -> QuerySet[Hold]:
    """Holds that no decision has ended. 1 query."""
    return standing_holds().filter(ended_at__isnull=True)


def holds_of_contents(fills: Iterable[Fill]) -> list[Hold]:
    """Open holds on the batches of fills that came with their batch. 1 query, or none."""
    batches = {link.batch_id for fill in fills if (link := getattr(fill, "of_batch", None))}
    return list(open_holds().filter(batch__in=batches)) if batches else []


def _of(subject: Held) -> Q:
    return Q(batch=subject) if isinstance(subject, Batch) else Q(crop=subject)


def holds_of(subject: Held) -> QuerySet[Hold]:
    """All that ever held a batch or a crop, with what was decided and noted. 3 queries."""
    return (
        standing_holds()
        .filter(_of(subject))
        .prefetch_related("decisions__signature", "notes__correction__signature")
        .order_by("held_at", "pk")
    )


def refuse_gone(subject: Held, *, field: str | None = None) -> None:
    """Refuse what was destroyed or called back. 1 query."""
    gone = (Choice.DESTROY, Choice.RECALL)
    if (hold := standing_holds().filter(_of(subject), outcome__in=gone).first()) is not None:
        raise Refusal(
            f"{hold.about.capitalize()} is decided: {hold.get_outcome_display()}. Choose another.",
            field=field,
            code="gone",
        )


def refuse_held(subject: Held, *, field: str | None = None) -> None:
    """Refuse what is held, or gone. 2 queries."""
    refuse_gone(subject, field=field)
    if (hold := open_holds().filter(_of(subject)).first()) is not None:
        raise Refusal(
            f"{hold.about.capitalize()} is held: {hold.reason}. The head brewer decides first.",
            field=field,
            code="held",
        )


def _hold(
    subject: Held | None, *, by: Actor, plate: Plate | None, rank: int | None, reason: str
) -> Hold | None:
    """Keep a hold, unless the same one is on record. 1 query, and 1 to write."""
    batch = subject if isinstance(subject, Batch) else None
    crop = subject if isinstance(subject, YeastCrop) else None
    same = Hold.objects.filter(plate=plate, batch=batch, crop=crop)
    if (same if plate else same.filter(ended_at__isnull=True)).exists():
        return None
    return Hold.objects.create(
        plate=plate,
        batch=batch,
        crop=crop,
        rank=rank,
        reason=reason[:400],
        held_at=by.now,
        held_by=by.person,
    )


def hold_by_hand(subject: Held, *, by: Actor, reason: str) -> Hold:
    """Hold a batch or a crop with a reason; refused where it is held by hand already."""
    hold = _hold(subject, by=by, plate=None, rank=None, reason=reason)
    if hold is None:
        raise Refusal("It is already held by hand. Decide that hold first.", code="held")
    return hold


def _why(plate: Plate) -> str:
    grew = f": {plate.organism}" if plate.organism else ""
    return f"positive plate of {plate.point}{grew}"


def hold_at_risk(plate: Plate, *, by: Actor) -> list[str]:
    """Hold every batch and crop at risk, each by itself, and the rest together.

    Returns what is held, in words.
    """
    trace = trace_of(plate)
    held: list[Hold | None] = []
    for one in [*trace.beer, *trace.yeast]:
        subject = one.batch if isinstance(one, BatchAtRisk) else one.crop
        held.append(_hold(subject, by=by, plate=plate, rank=one.rank, reason=_why(plate)))
    if trace.rest:
        held.append(_hold(None, by=by, plate=plate, rank=Rank.NOT_CLEANED, reason=_why(plate)))
    return [hold.about for hold in held if hold is not None]


def spread(sources: Iterable[Held], target: Held, *, by: Actor) -> None:
    """Hold what comes of something held, for the same reason."""
    for source in sources:
        for hold in open_holds().filter(_of(source)):
            rank = hold.rank
            if rank is not None and (
                isinstance(target, YeastCrop) or isinstance(source, YeastCrop)
            ):
                rank = Rank.YEAST
            reason = hold.reason if hold.plate else f"{hold.about}: {hold.reason}"
            _hold(target, by=by, plate=hold.plate, rank=rank, reason=reason)


def hold_by_vessel(fill: Fill, batch: Batch, *, by: Actor) -> None:
    """Hold a batch that went into a vessel after its positive plate, and no negative since."""
    grew = Plate.objects.filter(
        vessel=fill.vessel, state=PlateState.POSITIVE, taken_at__lte=fill.filled_at
    ).select_related("point__vessel")
    for plate in grew:
        _, until = bounds_of(plate)
        if until is None or fill.filled_at < until:
            _hold(batch, by=by, plate=plate, rank=Rank.BEER, reason=_why(plate))


def hold_by_crossing(
    fill: Fill, batch: Batch, *, by: Actor, through: Sequence[Vessel] = ()
) -> None:
    """Hold a batch that was filled without a release where something crossed over into it.

    A filling by the rules is refused instead. 4 queries where it was without a release.
    """
    if fill.without_release:
        hold_where_crossed(fill, batch, by=by, through=through)


def hold_where_crossed(
    fill: Fill, batch: Batch, *, by: Actor, through: Sequence[Vessel] = ()
) -> None:
    """Hold a batch with the allergens and cultures that its vessel had for it. 4 queries."""
    gear = [fill.vessel, *through]
    reasons = [
        f"{one.name} carried {what}, which {fill.beer.name} does not declare"
        for one, what in crossings(fill.beer, gear, until=fill.filled_at)
    ]
    reasons += [
        f"{one.name} is tagged {CultureUse(one.culture_use).label}"
        for one in gear
        if forbids(one.culture_use, mixed=fill.beer.sour_or_mixed)
    ]
    if reasons:
        _hold(batch, by=by, plate=None, rank=None, reason="; ".join(reasons))

"""What batches answer to the rooms below them."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db.models import Max, QuerySet
from django.db.models.functions import Coalesce
from django.urls import reverse

from brewhygiene.batches.brews.filled import keep_batch_of
from brewhygiene.batches.holds import hold_at_risk, standing_holds
from brewhygiene.batches.models.movements import Touch
from brewhygiene.cellar.models import Fill, Vessel
from brewhygiene.changeovers.questions import Passed, last_passes
from brewhygiene.ledger.recording import Actor
from brewhygiene.plates.models import Plate
from brewhygiene.plates.questions import AtRisk, at_risk_of, held_by_plate
from brewhygiene.release.questions import batch_of_fill


@batch_of_fill.answered_by
def kept_batch(by: Actor, fill: Fill, through: Sequence[Vessel] | None) -> None:
    """Its batch, written with it."""
    keep_batch_of(fill, by=by, through=through)


@last_passes.answered_by
def passes(
    vessels: Collection[int], beers: Collection[int], until: datetime | None
) -> list[Passed]:
    """By the touches of movements: the beer that was moved, or that the yeast was cropped from."""
    moved = Coalesce(
        "movement__from_fill__beer",
        "movement__from_crop__cropped_from__beer",
        "movement__to_fill__beer",
    )
    touches = Touch.objects.filter(vessel__in=vessels).annotate(beer=moved).filter(beer__in=beers)
    if until is not None:
        touches = touches.filter(moved_at__lte=until)
    return list(touches.order_by().values_list("vessel", "beer").annotate(at=Max("moved_at")))


@held_by_plate.answered_by
def held(by: Actor, plate: Plate) -> list[str]:
    """What is held, written with the plate's reading."""
    return hold_at_risk(plate, by=by)


@at_risk_of.answered_by
def at_risk(plates: Iterable[Plate] | QuerySet[Any]) -> Mapping[int, Sequence[AtRisk]]:
    """Each batch and crop, and the rest, with its last decision. 2 queries."""
    found: dict[int, list[AtRisk]] = {}
    holds = standing_holds().filter(plate__in=plates).prefetch_related("decisions")
    for hold in holds.order_by("rank", "pk"):
        decisions = list(hold.decisions.all())
        decided = decisions[-1].get_choice_display() if decisions else "no decision yet"
        address = reverse("batches:decide", args=[hold.pk])
        one = AtRisk(hold.about, decided, address, hold.ended_at is None)
        found.setdefault(hold.plate_id or 0, []).append(one)
    return found

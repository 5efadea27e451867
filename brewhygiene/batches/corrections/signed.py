"""What signed corrections changed, in words, and whether a form knew of them all."""

import dataclasses
from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.db.models import Prefetch, Q
from django.forms import Form

from brewhygiene.batches.models.corrections import (
    MovementCorrection,
    ShipmentCorrection,
    SignedCorrection,
)
from brewhygiene.batches.models.lots import Shipment
from brewhygiene.batches.models.movements import Movement, MovementKind
from brewhygiene.turnarounds.models import Turnaround


@dataclasses.dataclass(frozen=True)
class Change:
    """What a correction changed: its name, as it was, as it is; and what kind of value that is."""

    name: str
    was: object
    became: object
    is_volume: bool = False  # hL
    is_time: bool = False
    is_day: bool = False


FILLING_KINDS = (
    MovementKind.BREW,
    MovementKind.UNKNOWN,
    MovementKind.TRANSFER,
    MovementKind.VOID,
)
Corrected = list[tuple[SignedCorrection, list[Change]]]

NAMES = {
    "from": "From",
    "from_batch": "From batch",
    "to": "Into",
    "batch": "Batch",
    "volume_hl": "Volume",
    "loss_hl": "Loss",
    "loss_reason": "Where the loss went",
    "moved_at": "When",
    "lot": "Lot",
    "customer": "Customer",
    "units": "Number of units",
    "shipped_on": "Shipped on",
    "document": "Delivery note",
}


def changes_of(correction: SignedCorrection) -> list[Change]:
    """What one correction changed, in the order of the form."""
    found = []
    for name, was, became in correction.changed:
        is_time, is_day = name == "moved_at", name == "shipped_on"
        if is_time:
            was, became = (datetime.fromisoformat(str(one)) for one in (was, became))
        elif is_day:
            was, became = (date.fromisoformat(str(one)) for one in (was, became))
        found.append(Change(NAMES[name], was, became, name.endswith("_hl"), is_time, is_day))
    return found


def with_changes(corrections: Iterable[SignedCorrection]) -> Corrected:
    """Corrections, each with what it changed."""
    return [(one, changes_of(one)) for one in corrections]


def with_corrections(model: type[MovementCorrection] | type[ShipmentCorrection]) -> Any:
    """Rows with all their corrections, and who signed them. 1 query."""
    signed = model.objects.select_related("signature").order_by("pk")
    return Prefetch("corrections", queryset=signed)


def corrections_of(row: Movement | Shipment) -> Corrected:
    """All corrections of one row, the first at the top. 1 query."""
    return with_changes(row.corrections.select_related("signature").order_by("pk"))


def corrected_fillings(turnaround: Turnaround) -> Corrected:
    """What was corrected of the filling that closed a turnaround, or that does no more. 1 query."""
    of_fill = Q(movement__to_fill=turnaround.closing_fill_id, movement__kind__in=FILLING_KINDS)
    moved_away = Q(was_turnaround=turnaround)
    wanted = of_fill | moved_away if turnaround.closing_fill_id else moved_away
    signed = MovementCorrection.objects.filter(wanted).select_related("signature")
    return with_changes(signed.order_by("pk"))


def was_seen(form: Form, corrections: Corrected) -> bool:
    """Whether whoever sent this form knew of all of them."""
    return not form.is_bound or form["revision_seen"].value() == str(len(corrections))

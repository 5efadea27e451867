"""Closing a positive plate: after a strong re-clean, an inspection and a negative re-plating."""

from datetime import datetime

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.plates.closing.models import Inspected, PlateClosing
from brewhygiene.plates.closing.queries import (
    level_needed,
    plates_again,
    positive_since,
    recleans_of,
)
from brewhygiene.plates.models import Plate, PlateState
from brewhygiene.refusals import Refusal
from brewhygiene.turnarounds.actions import check_when, lock_turnaround, raise_revision
from brewhygiene.turnarounds.models import Clean


def _reclean(plate: Plate, chosen: Clean | None) -> Clean:
    """The re-clean that was chosen, or a refusal that says what is missing."""
    found = {clean.pk: clean for clean in recleans_of(plate)}
    if chosen is not None and chosen.pk in found:
        return found[chosen.pk]
    level = level_needed(plate.vessel).label
    if found:
        raise Refusal(
            f"Choose a clean of {plate.vessel.name} that was finished after this plate was read "
            f"positive, at the level {level}.",
            field="reclean",
        )
    raise Refusal(
        f"A re-clean is missing. Clean {plate.vessel.name} at the level {level}. No such clean "
        "was finished after this plate was read positive.",
        field="reclean",
        code="no_reclean",
    )


def _replating(plate: Plate, reclean: Clean, chosen: Plate | None) -> Plate:
    """The negative plate after the re-clean, or a refusal that says what is missing."""
    again = list(plates_again(plate, reclean))
    for one in again:
        if chosen is not None and one.pk == chosen.pk and one.clean_negative:
            return one
    where = f"{plate.point.name}, {plate.medium}"
    if any(one.clean_negative for one in again):
        raise Refusal(
            f"Choose a negative plate of {where}, taken after the re-clean.", field="replating"
        )
    if any(one.state == PlateState.PENDING for one in again):
        raise Refusal(
            f"The new plate of {where} is not read yet. Close this one when it is negative.",
            field="replating",
            code="not_read",
        )
    if again and again[0].state == PlateState.NEGATIVE:
        raise Refusal(
            f"The new plate of {where} is {again[0].not_known}. Send another with one that fits.",
            field="replating",
            code="not_neutralised",
        )
    if again:
        raise Refusal(
            f"The new plate of {where} is positive too. Clean again and send another.",
            field="replating",
            code="positive_again",
        )
    raise Refusal(
        f"A new plate is missing. Send one of {where}, taken after the re-clean, and close this "
        "one when it is negative.",
        field="replating",
        code="no_replating",
    )


@action("close positive plate")
def resolve_plate(
    *,
    by: Actor,
    plate: Plate,
    resolution: str,
    password: str,
    reclean: Clean | None = None,
    inspected: str = "",
    finding: str = "",
    inspected_at: datetime | None = None,
    replating: Plate | None = None,
) -> Recorded[Plate]:
    """Close a positive plate under a signature.

    It takes a strong re-clean that was finished after the plate was read, an inspection with its
    finding, and a plate taken after the re-clean that was read negative.
    """
    user = require(by, "decide_release")
    lock_turnaround(plate.turnaround)
    plate = Plate.objects.select_related("turnaround__vessel", "vessel", "point").get(pk=plate.pk)
    if not plate.open_positive:
        raise Refusal(
            "This plate is not an open positive, so it cannot be closed.", code="not_open"
        )
    reclean = _reclean(plate, reclean)
    if inspected not in Inspected.values:
        raise Refusal("Choose what the inspection found.", field="inspected")
    if not finding.strip():
        raise Refusal("Enter what was opened and what was seen.", field="finding")
    inspected_at = check_when(
        inspected_at or by.now, by=by, field="inspected_at", not_before=positive_since(plate)
    )
    if inspected_at < positive_since(plate):
        raise Refusal(
            "Enter a time after this plate was read positive. An earlier inspection does not "
            "count.",
            field="inspected_at",
        )
    replating = _replating(plate, reclean, replating)
    if not resolution.strip():
        raise Refusal("Enter the measures taken.", field="resolution")
    plate.resolution_signature = sign(
        by=by, password=password, meaning=f"Closed positive plate of {plate.point}"
    )
    plate.resolution = resolution.strip()
    plate.resolved_at = by.now
    plate.save()
    PlateClosing.objects.create(
        plate=plate,
        reclean=reclean,
        inspected=inspected,
        finding=finding.strip(),
        inspected_at=inspected_at,
        recorded_by=user,
        replating=replating,
    )
    raise_revision(plate.turnaround)
    return Recorded(
        plate,
        {
            "resolution": plate.resolution,
            "reclean": str(reclean),
            "inspected": inspected,
            "finding": finding.strip(),
            "inspected_at": inspected_at,
            "replating": str(replating),
        },
        aggregate=plate.turnaround,
    )

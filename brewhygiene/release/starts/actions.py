"""The action that puts vessels on record once, as they stand."""

import dataclasses
import zoneinfo
from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import GONE_THROUGH, Beer, Emptying, Fill, Vessel
from brewhygiene.cellar.vessels.actions import lock_vessel
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.models import Signature
from brewhygiene.people.permissions import WHAT_IT_TAKES, may, require
from brewhygiene.people.signatures import sign
from brewhygiene.quantities.style import digits, told
from brewhygiene.quantities.words import BEFORE_RECORD
from brewhygiene.refusals import Refusal
from brewhygiene.release.questions import batch_of_fill
from brewhygiene.turnarounds.actions import CLOCK_ALLOWANCE
from brewhygiene.turnarounds.models import Turnaround
from brewhygiene.turnarounds.models.starts import Stood, VesselStart


@dataclasses.dataclass(frozen=True)
class Stands:
    """How one vessel stands: what it contains, or that it is empty, or released on paper.

    ``since`` is the day on which the beer came in; ``released_at`` the time on the paper.
    """

    vessel: Vessel
    stood: str
    beer: Beer | None = None
    batch: str = ""
    volume_hl: float | None = None
    since: date | None = None
    released_at: datetime | None = None
    paper_signer: str = ""


@action("put vessels on record")
def put_on_record(
    *, by: Actor, vessels: Sequence[Stands], password: str = ""
) -> Recorded[VesselStart]:
    """Put vessels on record as they stand, all of them or none.

    A refusal for one names its field with the vessel's primary key, as ``beer_7``.
    """
    require(by, "edit_setup")
    if not vessels:
        raise Refusal("Choose how at least one vessel stands.", code="nothing")
    signature = _signature(by, vessels, password)
    written = []
    for stands in vessels:
        try:
            start = start_vessel(by=by.inner(), stands=stands, signature=signature)
        except Refusal as refusal:
            field = f"{refusal.field or 'stood'}_{stands.vessel.pk}"
            raise Refusal(refusal.message, field=field, code=refusal.code) from refusal
        written.append(start)
    return Recorded(written[0], {"vessels": [start.vessel.name for start in written]})


def _signature(by: Actor, vessels: Sequence[Stands], password: str) -> Signature | None:
    """One signature of somebody who may release, under all the papers; none without a paper."""
    papers = [stands.vessel for stands in vessels if stands.stood == Stood.RELEASED]
    if not papers:
        return None
    if not may(by.person, "decide_release"):
        raise Refusal(
            f"{WHAT_IT_TAKES['decide_release']} Ask the head brewer to put it on record.",
            field=f"stood_{papers[0].pk}",
            code="not_allowed",
        )
    names = ", ".join(vessel.name for vessel in papers)
    return sign(
        by=by, password=password, meaning=f"Put the paper release on record of {names}"[:200]
    )


@action("put vessel on record")
def start_vessel(
    *, by: Actor, stands: Stands, signature: Signature | None = None
) -> Recorded[VesselStart]:
    """Put a vessel on record as it stands: once, and only before its first turnaround.

    ``signature`` of the same person, under its paper; part of :func:`put_on_record`.
    """
    require(by, "edit_setup")
    vessel = lock_vessel(stands.vessel)
    _refuse_on_record(vessel)
    if stands.stood not in Stood.values:
        raise Refusal("Choose how the vessel stands.", field="stood")
    fill, turnaround = None, None
    paper: dict[str, Any] = {}
    if stands.stood == Stood.CONTAINS:
        fill = _contents(by, vessel, stands)
    elif stands.stood == Stood.EMPTY:
        turnaround = _turnaround(by, vessel, opened_at=by.now)
    else:
        released_at, signer = _paper(by, stands)
        turnaround = _turnaround(by, vessel, opened_at=released_at)
        paper = {"released_at": released_at, "paper_signer": signer, "signature": signature}
    start = VesselStart.objects.create(
        vessel=vessel,
        stood=stands.stood,
        fill=fill,
        turnaround=turnaround,
        recorded_at=by.now,
        recorded_by=by.person,
        **paper,
    )
    if fill is not None and fill.batch:
        batch_of_fill(by, fill, ())
    values: dict[str, Any] = {
        "vessel": vessel.name,
        "stood": stands.stood,
        "known": BEFORE_RECORD,
        "released_at": start.released_at,
        "paper_signer": start.paper_signer,
    }
    if fill is not None:
        values |= {
            "beer": fill.beer.name,
            "batch": fill.batch,
            "volume_hl": fill.volume_hl,
            "since": stands.since,
        }
    return Recorded(start, values, aggregate=turnaround or vessel)


def _refuse_on_record(vessel: Vessel) -> None:
    if VesselStart.objects.filter(vessel=vessel).exists():
        raise Refusal(
            f"{vessel.name} is already on record as it stood. Record what happens to it instead.",
            field="stood",
            code="already_started",
        )
    if vessel.turnarounds.exists() or vessel.fills.exists():
        raise Refusal(
            f"{vessel.name} has turnarounds on record, so it cannot start anew. Record what "
            "happens to it instead.",
            field="stood",
            code="has_history",
        )


def _contents(by: Actor, vessel: Vessel, stands: Stands) -> Fill:
    """What the vessel contains, as a fill of the day on which it came in."""
    if vessel.kind in GONE_THROUGH:
        raise Refusal(
            f"Beer goes through a {vessel.get_kind_display()} and does not stay in it. Choose "
            "empty, or released on paper.",
            field="stood",
            code="gone_through",
        )
    if stands.beer is None:
        raise Refusal("Choose the beer.", field="beer")
    if stands.volume_hl is None or not stands.volume_hl > 0:
        raise Refusal("Enter a volume above 0.", field="volume_hl")
    if stands.volume_hl > vessel.volume_hl * 1.0001:
        with told():
            raise Refusal(
                f"{vessel.name} takes {digits(vessel.volume_hl, 'g')} hL. "
                f"{digits(stands.volume_hl, 'g')} hL do not fit.",
                field="volume_hl",
            )
    if stands.since is None:
        raise Refusal("Enter the day since when it has contained the beer.", field="since")
    brewery = Brewery.current()
    if stands.since > brewery_day(by.now, brewery):
        raise Refusal("Enter a day that is not in the future.", field="since")
    zone = zoneinfo.ZoneInfo(brewery.time_zone)
    return Fill.objects.create(
        vessel=vessel,
        beer=stands.beer,
        batch=stands.batch.strip(),
        volume_hl=stands.volume_hl,
        filled_at=datetime.combine(stands.since, time.min, tzinfo=zone),
        recorded_by=by.person,
        before_record=True,
    )


def _turnaround(by: Actor, vessel: Vessel, *, opened_at: datetime) -> Turnaround:
    """The turnaround that it is in. Nobody knows when it was emptied, nor what it contained."""
    emptying = Emptying.objects.create(
        vessel=vessel, emptied_at=opened_at, co2_left=True, recorded_by=by.person
    )
    return Turnaround.objects.create(vessel=vessel, emptying=emptying, opened_at=opened_at)


def _paper(by: Actor, stands: Stands) -> tuple[datetime, str]:
    """The time on the paper and whose name stands on it."""
    if stands.released_at is None:
        raise Refusal("Enter the date and time on the paper.", field="released_at")
    if stands.released_at > by.now + CLOCK_ALLOWANCE:
        raise Refusal("Enter a time that is not in the future.", field="released_at")
    signer = stands.paper_signer.strip()
    if not signer:
        raise Refusal("Enter whose name stands on the paper.", field="paper_signer")
    return min(stands.released_at, by.now), signer

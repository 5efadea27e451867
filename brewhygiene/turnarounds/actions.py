"""Actions of the turnaround and of its cleans; the steps' own are in ``steps.actions``."""

from datetime import datetime, timedelta
from typing import Any

from django.db.models import F

from brewhygiene.cellar.models import Beer, Emptying, Fill, Vessel
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.regimes.queries import versions_with_steps
from brewhygiene.skids.models import Skid
from brewhygiene.turnarounds.models import (
    Clean,
    CleanPurpose,
    Turnaround,
    VesselOpening,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.starts import start_of
from brewhygiene.turnarounds.progress import progress_of, sanitising
from brewhygiene.turnarounds.queries import cleans_with_records, open_permit, proposal_for
from brewhygiene.turnarounds.questions import allergens_carried
from brewhygiene.turnarounds.residues import refuse_unsafe_clean
from brewhygiene.turnarounds.residues.gear import gear_for_clean, of_gear

# A tablet's clock and the server's may disagree by this much before "future" is meant.
CLOCK_ALLOWANCE = timedelta(minutes=2)
OLDEST_ENTRY = timedelta(days=60)


def check_when(
    moment: datetime, *, by: Actor, field: str, not_before: datetime | None = None
) -> datetime:
    """Refuse a time in the future or absurdly old; a slightly fast clock is brought to now.

    Times are typed to the minute: one in the same minute as ``not_before`` is brought up to it.
    Whether a time before that is refused is the caller's rule.
    """
    if not_before is not None and not_before.replace(second=0, microsecond=0) <= moment:
        moment = max(moment, not_before)
    if moment > by.now + CLOCK_ALLOWANCE:
        raise Refusal("Enter a time that is not in the future.", field=field)
    if moment < by.now - OLDEST_ENTRY:
        raise Refusal(f"Enter a time within the last {OLDEST_ENTRY.days} days.", field=field)
    return min(moment, by.now)


def lock_turnaround(turnaround: Turnaround) -> Turnaround:
    """The turnaround as it is now, locked to the end of the transaction. 1 query."""
    return (
        Turnaround.objects.select_for_update(of=("self",))
        .select_related("vessel", "emptying__beer", "next_beer", "start")
        .get(pk=turnaround.pk)
    )


def lock_open_turnaround(turnaround: Turnaround) -> Turnaround:
    """As :func:`lock_turnaround`; refused once the vessel has been filled."""
    locked = lock_turnaround(turnaround)
    if locked.closed_at is not None:
        raise Refusal(
            f"{locked.vessel.name} has been filled since. This turnaround is closed.",
            code="closed",
        )
    return locked


def refuse_while_entered(turnaround: Turnaround) -> None:
    """Refuse while somebody may be inside the vessel. 1 query."""
    permit = open_permit(turnaround)
    if permit is not None:
        raise Refusal(
            f"Somebody may be inside {turnaround.vessel.name}: {permit.entrants}. Close the entry "
            "permit first.",
            code="entered",
        )


def raise_revision(turnaround: Turnaround) -> None:
    """Mark the turnaround as changed, so that a decision on what it was is refused."""
    Turnaround.objects.filter(pk=turnaround.pk).update(revision=F("revision") + 1)


@action("empty vessel")
def empty_vessel(
    *,
    by: Actor,
    vessel: Vessel,
    emptied_at: datetime,
    beer: Beer | None = None,
    next_beer: Beer | None = None,
    co2_left: bool = True,
    note: str = "",
) -> Recorded[Turnaround]:
    """Record that a vessel was emptied, which opens its turnaround.

    ``beer`` is what was in it, used where no fill is on record.
    """
    user = require(by, "work_cellar")
    vessel = Vessel.objects.select_for_update().get(pk=vessel.pk)
    fill = vessel.fills.filter(emptying__isnull=True).select_related("beer").first()
    emptied_at = check_when(
        emptied_at, by=by, field="emptied_at", not_before=fill.filled_at if fill else None
    )
    if (
        running := vessel.turnarounds.filter(closed_at__isnull=True)
        .select_related("emptying__recorded_by")
        .first()
    ):
        raise Refusal(
            f"{vessel.name} is already empty: {running.emptying.recorded_by} recorded it.",
            code="already_empty",
        )
    if fill is not None and emptied_at < fill.filled_at:
        raise Refusal(
            f"{vessel.name} was filled after that time. Enter a later time.", field="emptied_at"
        )
    emptying = Emptying.objects.create(
        vessel=vessel,
        fill=fill,
        beer=fill.beer if fill else beer,
        emptied_at=emptied_at,
        co2_left=co2_left,
        note=note,
        recorded_by=user,
    )
    turnaround = Turnaround.objects.create(
        vessel=vessel, emptying=emptying, next_beer=next_beer, opened_at=emptied_at
    )
    return Recorded(
        turnaround,
        {
            "vessel": vessel.name,
            "emptied_at": emptied_at,
            "held": str(fill) if fill else (emptying.beer.name if emptying.beer else "unknown"),
            "next_beer": next_beer.name if next_beer else None,
            "co2_left": co2_left,
            "note": note,
        },
        aggregate=turnaround,
    )


@action("plan next beer")
def plan_next_beer(*, by: Actor, turnaround: Turnaround, beer: Beer | None) -> Recorded[Turnaround]:
    """Say what comes next into the vessel, which may ask for a stronger clean."""
    require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    before = turnaround.next_beer
    turnaround.next_beer = beer
    turnaround.save(update_fields=["next_beer"])
    raise_revision(turnaround)
    return Recorded(
        turnaround,
        {"before": before.name if before else None, "after": beer.name if beer else None},
        aggregate=turnaround,
    )


def _refuse_unless_cleanable(turnaround: Turnaround, version: RegimeVersion) -> None:
    vessel = turnaround.vessel
    if vessel.out_of_service_since is not None:
        raise Refusal(f"{vessel.name} is out of service: {vessel.out_of_service_reason}.")
    refuse_while_entered(turnaround)
    if turnaround.cleans.filter(finished_at__isnull=True, stopped_at__isnull=True).exists():
        raise Refusal(f"A clean of {vessel.name} is already running.", code="already_running")
    if vessel.kind not in version.regime.vessel_kinds:
        raise Refusal(
            f"{version.regime.name} is not for a {vessel.get_kind_display()}.", field="version"
        )
    if not version.current or not version.regime.active:
        raise Refusal(
            f"{version} is no longer in force. Choose another regime.",
            field="version",
            code="outdated",
        )
    if not version.steps.exists():
        raise Refusal(f"{version.regime.name} has no steps yet.", field="version")
    refuse_unsafe_clean(turnaround, version)


def new_clean(
    *,
    by: Actor,
    turnaround: Turnaround,
    version: RegimeVersion,
    weaker_reason: str,
    started_at: datetime,
    skid: Skid | None = None,
    hose: Skid | None = None,
    **entered: Any,
) -> Clean:
    """A clean by a regime version; one weaker than the proposed needs a reason. Part of actions."""
    version = versions_with_steps().get(pk=version.pk)
    _refuse_unless_cleanable(turnaround, version)
    gear = gear_for_clean(skid, hose, version, vessel=turnaround.vessel.name, now=by.now)
    if version.regime.resanitises_only:
        raise Refusal(
            f"{version.regime.name} only re-sanitises. Choose a regime that cleans.",
            field="version",
        )
    proposal = proposal_for(turnaround)
    weaker = not proposal.is_met_by(version)
    if weaker and not weaker_reason.strip():
        raise Refusal(
            f"{version.regime.name} is weaker than required. Enter a reason.",
            field="weaker_reason",
            code="weaker",
        )
    clean = Clean.objects.create(
        turnaround=turnaround,
        version=version,
        proposed_regime=proposal.version.regime.name if proposal.version else "",
        proposal_reasons=proposal.reasons,
        required_level=proposal.level,
        weaker_reason=weaker_reason.strip() if weaker else "",
        carried=allergens_carried(turnaround.vessel),
        started_at=started_at,
        started_by=by.person,
        **gear,
        **entered,
    )
    raise_revision(turnaround)
    return clean


def of_new_clean(clean: Clean) -> dict[str, Any]:
    """A new clean, for the ledger."""
    return {
        "regime": str(clean.version),
        "proposed": clean.proposed_regime,
        "reasons": clean.proposal_reasons,
        "weaker_reason": clean.weaker_reason,
        "carried": clean.carried,
        **of_gear(clean),
    }


@action("start clean")
def start_clean(
    *,
    by: Actor,
    turnaround: Turnaround,
    version: RegimeVersion,
    weaker_reason: str = "",
    skid: Skid | None = None,
    hose: Skid | None = None,
) -> Recorded[Clean]:
    """Start a clean by a regime version; one weaker than the proposed needs a reason.

    ``skid`` and ``hose`` are what it runs on, where the brewery keeps them on record.
    """
    require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    clean = new_clean(
        by=by,
        turnaround=turnaround,
        version=version,
        weaker_reason=weaker_reason,
        started_at=by.now,
        skid=skid,
        hose=hose,
    )
    return Recorded(clean, of_new_clean(clean), aggregate=turnaround)


@action("start re-sanitise")
def start_resanitise(
    *,
    by: Actor,
    turnaround: Turnaround,
    version: RegimeVersion,
    purpose: CleanPurpose = CleanPurpose.RESANITISE,
    skid: Skid | None = None,
    hose: Skid | None = None,
) -> Recorded[Clean]:
    """Start a re-sanitise, or sanitising before filling.

    Whether one is allowed is the release room's rule, which calls this.
    """
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    version = versions_with_steps().get(pk=version.pk)
    _refuse_unless_cleanable(turnaround, version)
    if not version.regime.resanitises_only:
        raise Refusal(
            f"{version.regime.name} is a clean. Choose a regime that only re-sanitises.",
            field="version",
        )
    if not any(sanitising(step) for step in version.steps.all()):
        raise Refusal(f"{version.regime.name} has no sanitising step.", field="version")
    clean = Clean.objects.create(
        turnaround=turnaround,
        version=version,
        purpose=purpose,
        carried=allergens_carried(turnaround.vessel),
        started_at=by.now,
        started_by=user,
        **gear_for_clean(skid, hose, version, vessel=turnaround.vessel.name, now=by.now),
    )
    raise_revision(turnaround)
    return Recorded(clean, {"regime": str(version), **of_gear(clean)}, aggregate=turnaround)


def lock_running_clean(clean: Clean) -> Clean:
    """The clean with its records, its turnaround locked; refused once it has ended."""
    lock_open_turnaround(clean.turnaround)
    loaded = cleans_with_records().get(pk=clean.pk)
    if loaded.finished_at is not None:
        raise Refusal("This clean is finished.", code="clean_ended")
    if loaded.stopped_at is not None:
        raise Refusal("This clean was stopped.", code="clean_ended")
    return loaded


@action("stop clean")
def stop_clean(*, by: Actor, clean: Clean, reason: str) -> Recorded[Clean]:
    """Stop a running clean for good, with the reason; the vessel then needs another."""
    require(by, "work_cellar")
    if not reason.strip():
        raise Refusal("Enter why the clean is stopped.", field="reason")
    clean = lock_running_clean(clean)
    clean.step_records.filter(ended_at__isnull=True).update(ended_at=by.now, ended_by=by.person)
    clean.stopped_at = by.now
    clean.stop_reason = reason.strip()
    clean.save(update_fields=["stopped_at", "stop_reason"])
    raise_revision(clean.turnaround)
    return Recorded(clean, {"reason": clean.stop_reason}, aggregate=clean.turnaround)


@action("finish clean")
def finish_clean(*, by: Actor, clean: Clean) -> Recorded[Clean]:
    """Declare a clean finished; every step done or left out, every deviation disposed of."""
    user = require(by, "work_cellar")
    clean = lock_running_clean(clean)
    progress = progress_of(clean)
    if progress.current is not None:
        waiting = progress.current
        why = (
            waiting.open_deviations[0].description
            if waiting.open_deviations
            else f"{waiting.step.get_kind_display()} is not done"
        )
        raise Refusal(f"Not finished yet: {why}.", code="not_complete")
    ends = [
        item.record.ended_at
        for item in progress.steps
        if item.state == "done" and sanitising(item.step) and item.record and item.record.ended_at
    ]
    # One that was entered afterwards ended with its last step: its clean-hold runs from there.
    stated = [record.ended_at for record in clean.step_records.all() if record.ended_at]
    clean.finished_at = by.now if clean.entered_at is None else max(stated)
    clean.finished_by = user
    clean.sanitised_at = max(ends, default=None)
    clean.save(update_fields=["finished_at", "finished_by", "sanitised_at"])
    raise_revision(clean.turnaround)
    deviations = Deviation.objects.filter(record__clean=clean).count()
    return Recorded(
        clean,
        {"sanitised_at": clean.sanitised_at, "deviations": deviations},
        aggregate=clean.turnaround,
    )


@action("open cleaned vessel")
def record_opening(*, by: Actor, turnaround: Turnaround, reason: str) -> Recorded[VesselOpening]:
    """Record that a cleaned vessel was opened, which voids its release."""
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    if not reason.strip():
        raise Refusal("Enter why it was opened.", field="reason")
    start = start_of(turnaround)
    on_paper = start is not None and start.on_paper
    if not on_paper and not turnaround.cleans.filter(finished_at__isnull=False).exists():
        raise Refusal(
            f"{turnaround.vessel.name} has not been cleaned since it was emptied, so there is no "
            "opening to record.",
            code="not_cleaned",
        )
    opening = VesselOpening.objects.create(
        turnaround=turnaround, opened_at=by.now, reason=reason.strip(), recorded_by=user
    )
    raise_revision(turnaround)
    return Recorded(opening, {"reason": opening.reason}, aggregate=turnaround)


def close_turnaround(*, by: Actor, turnaround: Turnaround, fill: Fill) -> None:
    """Close a turnaround by its fill; part of the release room's fill actions."""
    turnaround.closed_at = fill.filled_at
    turnaround.closing_fill = fill
    turnaround.save(update_fields=["closed_at", "closing_fill"])
    raise_revision(turnaround)

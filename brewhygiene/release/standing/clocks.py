"""The clocks of a cleaned vessel: what counts since when, and until when. Pure functions."""

import dataclasses
from datetime import datetime

from brewhygiene.release.standing.facts import (
    CleanFacts,
    DecisionFacts,
    ResultFacts,
    TurnaroundFacts,
    VesselFacts,
)


def last_finished(turnaround: TurnaroundFacts) -> CleanFacts | None:
    """The latest clean or re-sanitise that was finished."""
    return next((c for c in reversed(turnaround.cleans) if c.finished_at is not None), None)


def last_full_clean(turnaround: TurnaroundFacts) -> CleanFacts | None:
    """The latest finished clean that was not just a re-sanitise."""
    return next(
        (c for c in reversed(turnaround.cleans) if c.finished_at is not None and c.is_clean), None
    )


def actions_since_full_clean(turnaround: TurnaroundFacts) -> list[ResultFacts]:
    """Results over the action limit that no later clean has answered."""
    full = last_full_clean(turnaround)
    if full is None:
        return []
    counted = {c.pk for c in turnaround.cleans if c.pk >= full.pk}
    return [r for r in turnaround.results if r.verdict == "action" and r.clean_pk in counted]


def _counted(turnaround: TurnaroundFacts) -> list[CleanFacts]:
    """The last finished full clean and what was finished after it, oldest first."""
    full = last_full_clean(turnaround)
    if full is None:
        return []
    return [c for c in turnaround.cleans if c.pk >= full.pk and c.finished_at is not None]


@dataclasses.dataclass(frozen=True)
class CountedFrom:
    """From where the clean-hold runs, and whether a re-sanitise renewed it; the clean from which
    on samples count."""

    clean_hold: datetime
    renewed: bool
    samples_pk: int


def counted_from(vessel: VesselFacts, turnaround: TurnaroundFacts) -> CountedFrom | None:
    """What the clean-hold and the samples count from; ``None`` before a clean is finished.

    The clean-hold runs from the full clean. A re-sanitise begun after it had passed starts it
    again, once, and asks for fresh samples; so does one after an opening, which starts it not.
    Any other only sanitises again.
    """
    counted = _counted(turnaround)
    if not counted:
        return None
    first, *later = counted
    assert first.finished_at is not None
    found, before = CountedFrom(first.finished_at, False, first.pk), first.finished_at
    for clean in later:
        assert clean.finished_at is not None
        passed = found.clean_hold + vessel.hold_times.clean <= clean.started_at
        opened = any(before <= moment < clean.finished_at for moment in turnaround.openings)
        if passed and not found.renewed:
            found = CountedFrom(clean.finished_at, True, clean.pk)
        elif opened:
            found = dataclasses.replace(found, samples_pk=clean.pk)
        before = clean.finished_at
    return found


def missing_points(vessel: VesselFacts, turnaround: TurnaroundFacts) -> list[str]:
    """Required points without a result since the clean from which on samples count."""
    since = counted_from(vessel, turnaround)
    sampled = {r.point_pk for r in turnaround.results if since and r.clean_pk >= since.samples_pk}
    return [name for pk, name in vessel.required_points.items() if pk not in sampled]


def results_in_doubt(vessel: VesselFacts, turnaround: TurnaroundFacts) -> list[ResultFacts]:
    """Counted results whose meter failed its control check, and whose point has no later one
    that stands."""
    since = counted_from(vessel, turnaround)
    if since is None:
        return []
    counted = [r for r in turnaround.results if r.clean_pk >= since.samples_pk]
    stands = {r.point_pk: r.recorded_at for r in counted if r.in_doubt_since is None}
    return [
        r
        for r in counted
        if r.in_doubt_since is not None
        and (r.point_pk not in stands or stands[r.point_pk] <= r.recorded_at)
    ]


def recalled(turnaround: TurnaroundFacts, decision: DecisionFacts) -> bool:
    """Whether a reading that a release stands on came into doubt after it was signed."""
    full = last_full_clean(turnaround)
    if full is None or decision.outcome != "release" or not decision.by_meter:
        return False
    return any(
        r.in_doubt_since is not None and r.recorded_at <= decision.decided_at < r.in_doubt_since
        for r in turnaround.results
        if r.clean_pk >= full.pk
    )


def clean_hold_ends_at(vessel: VesselFacts, turnaround: TurnaroundFacts) -> datetime | None:
    """When the clean itself stops counting, whatever is sanitised until then."""
    since = counted_from(vessel, turnaround)
    return None if since is None else since.clean_hold + vessel.hold_times.clean


def sanitised_hold_ends_at(vessel: VesselFacts, turnaround: TurnaroundFacts) -> datetime | None:
    """When it has to be sanitised again; ``None`` where no step of its clean sanitised."""
    moments = [c.sanitised_at for c in _counted(turnaround) if c.sanitised_at is not None]
    return max(moments) + vessel.hold_times.sanitised if moments else None


def hold_ends_at(vessel: VesselFacts, turnaround: TurnaroundFacts) -> datetime | None:
    """The sooner of the ends of clean-hold and sanitised-hold."""
    ends = [
        end
        for end in (
            clean_hold_ends_at(vessel, turnaround),
            sanitised_hold_ends_at(vessel, turnaround),
        )
        if end is not None
    ]
    return min(ends, default=None)


def needs_reclean(vessel: VesselFacts, turnaround: TurnaroundFacts, now: datetime) -> bool:
    """Whether the clean-hold has passed that a re-sanitise had renewed: once is all."""
    since = counted_from(vessel, turnaround)
    return since is not None and since.renewed and since.clean_hold + vessel.hold_times.clean <= now


def needs_samples(vessel: VesselFacts, now: datetime) -> bool:
    """Whether a re-sanitise begun now asks for fresh samples."""
    turnaround = vessel.turnaround
    if turnaround is None:
        return False
    ends = clean_hold_ends_at(vessel, turnaround)
    return opened_since(turnaround) is not None or (ends is not None and ends <= now)


def opened_since(turnaround: TurnaroundFacts) -> datetime | None:
    """When the vessel was first opened after its last clean or re-sanitise.

    Sanitising before filling does not answer an opening.
    """
    finished = max(
        (c.finished_at for c in turnaround.cleans if c.finished_at and not c.before_filling),
        default=None,
    )
    if finished is None:
        return None
    return next((moment for moment in turnaround.openings if moment >= finished), None)


def needs_new_clean(turnaround: TurnaroundFacts) -> bool:
    """Whether the last attempt at a clean was stopped, so that none counts."""
    return bool(turnaround.cleans) and turnaround.cleans[-1].stopped_at is not None

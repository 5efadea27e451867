"""A vessel's status: one pure function of what happened, and of now."""

import dataclasses
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from enum import StrEnum

from brewhygiene.quantities.words import BEFORE_RECORD
from brewhygiene.release.paper import PaperRelease


class Code(StrEnum):
    IN_USE = "in_use"
    EMPTY = "empty"
    CLEANING = "cleaning"
    TO_SAMPLE = "to_sample"
    TO_DECIDE = "to_decide"
    HELD = "held"
    RELEASED = "released"
    LAPSED = "lapsed"
    OUT_OF_SERVICE = "out_of_service"

    @property
    def label(self) -> str:
        return self.value.replace("_", " ")


class Next(StrEnum):
    """What is to be done next; each page turns it into its own link."""

    EMPTY = "empty"
    CLEAN = "clean"
    CONTINUE = "continue"
    SAMPLE = "sample"
    DECIDE = "decide"
    RESANITISE = "resanitise"
    FILL = "fill"
    PLATE = "plate"
    NOTHING = "nothing"


@dataclasses.dataclass(frozen=True)
class HoldTimes:
    """The three hold times that apply to the vessel."""

    dirty: timedelta = timedelta(hours=24)
    clean: timedelta = timedelta(hours=24)
    sanitised: timedelta = timedelta(hours=4)


@dataclasses.dataclass(frozen=True)
class CleanFacts:
    pk: int
    is_clean: bool  # False for a re-sanitise
    regime: str
    started_at: datetime
    finished_at: datetime | None = None
    sanitised_at: datetime | None = None
    stopped_at: datetime | None = None


@dataclasses.dataclass(frozen=True)
class ResultFacts:
    """A result that no correction replaces."""

    clean_pk: int
    point_pk: int
    point: str
    verdict: str
    rlu: int
    recorded_at: datetime


@dataclasses.dataclass(frozen=True)
class DecisionFacts:
    clean_pk: int | None
    outcome: str
    decided_at: datetime
    by: str
    reason: str = ""
    lapses_at: datetime | None = None


@dataclasses.dataclass(frozen=True)
class TurnaroundFacts:
    """What happened since the vessel was emptied, oldest first in each list.

    Where it was ``emptied_before_record``, nobody knows when, and ``emptied_at`` is when that
    was put on record, or the time on the ``paper`` that released it.
    """

    pk: int
    emptied_at: datetime
    cleans: Sequence[CleanFacts] = ()
    results: Sequence[ResultFacts] = ()
    decisions: Sequence[DecisionFacts] = ()
    openings: Sequence[datetime] = ()
    emptied_before_record: bool = False
    paper: PaperRelease | None = None


@dataclasses.dataclass(frozen=True)
class VesselFacts:
    """Everything that a vessel's status depends on, besides now."""

    name: str
    hold_times: HoldTimes = dataclasses.field(default_factory=HoldTimes)
    required_points: Mapping[int, str] = dataclasses.field(default_factory=dict)
    out_of_service_since: datetime | None = None
    out_of_service_reason: str = ""
    open_positive_since: datetime | None = None
    filled_at: datetime | None = None
    contents: str = ""
    filled_without_release: bool = False
    filled_before_record: bool = False
    turnaround: TurnaroundFacts | None = None


@dataclasses.dataclass(frozen=True)
class Status:
    """A vessel's status as it is shown."""

    code: Code
    since: datetime | None
    detail: str
    next: Next
    next_text: str
    due_at: datetime | None = None

    def overdue(self, now: datetime) -> bool:
        return self.due_at is not None and self.due_at < now


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


def missing_points(vessel: VesselFacts, turnaround: TurnaroundFacts) -> list[str]:
    """Required points without a result after the last clean or re-sanitise."""
    last = last_finished(turnaround)
    sampled = {r.point_pk for r in turnaround.results if last and r.clean_pk == last.pk}
    return [name for pk, name in vessel.required_points.items() if pk not in sampled]


def hold_ends_at(vessel: VesselFacts, turnaround: TurnaroundFacts) -> datetime | None:
    """When the clean stops counting: the shorter of clean-hold and sanitised-hold.

    A finished re-sanitise starts both again, since fresh samples have to follow it.
    """
    last = last_finished(turnaround)
    if last is None or last.finished_at is None:
        return None
    ends = last.finished_at + vessel.hold_times.clean
    if last.sanitised_at is not None:
        ends = min(ends, last.sanitised_at + vessel.hold_times.sanitised)
    return ends


def opened_since(turnaround: TurnaroundFacts) -> datetime | None:
    """When the vessel was first opened after its last clean or re-sanitise."""
    last = last_finished(turnaround)
    if last is None or last.finished_at is None:
        return None
    finished = last.finished_at
    return next((moment for moment in turnaround.openings if moment >= finished), None)


def needs_new_clean(turnaround: TurnaroundFacts) -> bool:
    """Whether the last attempt at a clean was stopped, so that none counts."""
    return bool(turnaround.cleans) and turnaround.cleans[-1].stopped_at is not None


def may_resanitise(vessel: VesselFacts, now: datetime) -> str | None:
    """Why a re-sanitise is not allowed now, or ``None`` when it is.

    It answers a lapse or an opening, never a reading over its limit or a hold.
    """
    turnaround = vessel.turnaround
    if turnaround is None:
        return f"{vessel.name} is in use."
    if any(c.finished_at is None and c.stopped_at is None for c in turnaround.cleans):
        return "A clean is running. Finish or stop it first."
    if last_full_clean(turnaround) is None or needs_new_clean(turnaround):
        return "No clean is finished yet. Clean the vessel first."
    if actions_since_full_clean(turnaround):
        return "A reading is over the action limit. Re-clean the vessel instead."
    if vessel.open_positive_since is not None:
        return "A positive plate is open. Re-clean the vessel instead."
    decision = _standing_decision(turnaround)
    if decision is not None and decision.outcome == "hold":
        return "The vessel is held. Re-clean it or decide again."
    ends = hold_ends_at(vessel, turnaround)
    if opened_since(turnaround) is None and ends is not None and ends > now:
        return "The hold time has not passed. The vessel needs no re-sanitise yet."
    return None


def _standing_decision(turnaround: TurnaroundFacts) -> DecisionFacts | None:
    """The latest decision, while no clean was started after it.

    A re-sanitise does not end a hold.
    """
    if not turnaround.decisions:
        return None
    latest = turnaround.decisions[-1]
    later = [c for c in turnaround.cleans if c.started_at >= latest.decided_at]
    if any(c.is_clean or latest.outcome == "release" for c in later):
        return None
    return latest


def status_of(vessel: VesselFacts, now: datetime) -> Status:
    """The status of a vessel at ``now``."""
    if vessel.out_of_service_since is not None:
        return Status(
            Code.OUT_OF_SERVICE,
            vessel.out_of_service_since,
            vessel.out_of_service_reason,
            Next.NOTHING,
            "Return it to service in the set-up",
        )
    turnaround = vessel.turnaround
    if turnaround is None:
        return _without_turnaround(vessel)
    return _in_turnaround(vessel, turnaround, now)


def _without_turnaround(vessel: VesselFacts) -> Status:
    if vessel.open_positive_since is not None:
        return Status(
            Code.HELD,
            vessel.open_positive_since,
            f"Positive plate, contains {vessel.contents}" if vessel.contents else "Positive plate",
            Next.PLATE,
            "Close positive plate",
        )
    if vessel.filled_at is None:
        return Status(Code.EMPTY, None, "Not on record yet", Next.EMPTY, "Record emptying")
    detail = vessel.contents
    if vessel.filled_before_record:
        detail += f", {BEFORE_RECORD}"
    if vessel.filled_without_release:
        detail += ", filled without a release"
    return Status(Code.IN_USE, vessel.filled_at, detail, Next.EMPTY, "Record emptying")


def _in_turnaround(vessel: VesselFacts, turnaround: TurnaroundFacts, now: datetime) -> Status:
    running = next(
        (c for c in turnaround.cleans if c.finished_at is None and c.stopped_at is None), None
    )
    if running is not None:
        return Status(
            Code.CLEANING, running.started_at, running.regime, Next.CONTINUE, "Continue clean"
        )
    if held := _held(vessel, turnaround):
        return held
    if turnaround.paper is not None and not turnaround.cleans:
        return _on_paper(vessel, turnaround, turnaround.paper, now)
    last = last_finished(turnaround)
    if last is None or last.finished_at is None or needs_new_clean(turnaround):
        return _to_clean(vessel, turnaround)
    ends = hold_ends_at(vessel, turnaround)
    opened = opened_since(turnaround)
    decision = _standing_decision(turnaround)
    if decision is not None and decision.outcome == "release":
        return _released(decision, opened, now)
    stale = opened is not None or (ends is not None and ends <= now)
    if stale:
        why = "Opened since the clean" if opened else "The hold time has passed"
        code = Code.TO_SAMPLE if missing_points(vessel, turnaround) else Code.TO_DECIDE
        return Status(code, last.finished_at, why, Next.RESANITISE, "Re-sanitise", due_at=ends)
    missing = missing_points(vessel, turnaround)
    if missing:
        return Status(
            Code.TO_SAMPLE,
            last.finished_at,
            "Due: " + ", ".join(missing),
            Next.SAMPLE,
            f"Sample {missing[0]}",
            due_at=ends,
        )
    latest = max((r.recorded_at for r in turnaround.results), default=last.finished_at)
    return Status(
        Code.TO_DECIDE,
        latest,
        "Sampled, waiting for the head brewer",
        Next.DECIDE,
        "Hold or release",
        due_at=ends,
    )


def _to_clean(vessel: VesselFacts, turnaround: TurnaroundFacts) -> Status:
    stopped = turnaround.cleans[-1].stopped_at if turnaround.cleans else None
    detail = "The clean was stopped" if stopped else "Waiting to be cleaned"
    if turnaround.emptied_before_record:  # no dirty-hold time: nobody knows since when
        emptied = f"{detail}, emptied {BEFORE_RECORD}"
        return Status(Code.EMPTY, None, emptied, Next.CLEAN, "Start clean")
    return Status(
        Code.EMPTY,
        turnaround.emptied_at,
        detail,
        Next.CLEAN,
        "Start clean",
        due_at=turnaround.emptied_at + vessel.hold_times.dirty,
    )


def _on_paper(
    vessel: VesselFacts, turnaround: TurnaroundFacts, paper: PaperRelease, now: datetime
) -> Status:
    """While no clean was started. A lapse asks for a clean: none is on record to count on."""
    hold = vessel.hold_times
    lapses_at = paper.lapses_at(clean=hold.clean, sanitised=hold.sanitised)
    void = paper.void_at(now, lapses_at=lapses_at, openings=turnaround.openings)
    if void is not None:
        return Status(Code.LAPSED, *void, Next.CLEAN, "Start clean")
    return Status(
        Code.RELEASED, paper.released_at, paper.words, Next.FILL, "Record filling", due_at=lapses_at
    )


def _held(vessel: VesselFacts, turnaround: TurnaroundFacts) -> Status | None:
    if vessel.open_positive_since is not None:
        return Status(
            Code.HELD,
            max(vessel.open_positive_since, turnaround.emptied_at),
            "Positive plate",
            Next.PLATE,
            "Close positive plate",
        )
    decision = _standing_decision(turnaround)
    answered = decision.decided_at if decision and decision.outcome == "release" else None
    over = [
        r
        for r in actions_since_full_clean(turnaround)
        if answered is None or r.recorded_at > answered
    ]
    if over:
        worst = max(over, key=lambda r: r.rlu)
        return Status(
            Code.HELD,
            min(r.recorded_at for r in over),
            f"{worst.point}: {worst.rlu} RLU, over the action limit",
            Next.CLEAN,
            "Find cause and re-clean",
        )
    if decision is not None and decision.outcome == "hold":
        return Status(
            Code.HELD,
            decision.decided_at,
            f"{decision.by}: {decision.reason}",
            Next.CLEAN,
            "Re-clean or decide again",
        )
    return None


def _released(decision: DecisionFacts, opened: datetime | None, now: datetime) -> Status:
    if opened is not None:
        return Status(
            Code.LAPSED,
            opened,
            "Opened since the release",
            Next.RESANITISE,
            "Re-sanitise",
        )
    if decision.lapses_at is not None and decision.lapses_at <= now:
        return Status(
            Code.LAPSED,
            decision.lapses_at,
            "The release has lapsed",
            Next.RESANITISE,
            "Re-sanitise",
        )
    return Status(
        Code.RELEASED,
        decision.decided_at,
        f"Signed by {decision.by}",
        Next.FILL,
        "Record filling",
        due_at=decision.lapses_at,
    )

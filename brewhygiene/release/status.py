"""A vessel's status: one pure function of what happened, and of now."""

import dataclasses
from datetime import datetime
from enum import StrEnum

from brewhygiene.quantities.words import BEFORE_RECORD
from brewhygiene.release.standing.clocks import (
    actions_since_full_clean,
    hold_ends_at,
    last_finished,
    last_full_clean,
    missing_points,
    needs_new_clean,
    needs_reclean,
    opened_since,
    recalled,
    results_in_doubt,
    sanitised_hold_ends_at,
)
from brewhygiene.release.standing.facts import (
    DecisionFacts,
    TurnaroundFacts,
    VesselFacts,
)
from brewhygiene.release.standing.paper import PaperRelease


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
    SANITISE = "sanitise"
    FILL = "fill"
    PLATE = "plate"
    PERMIT = "permit"
    NOTHING = "nothing"


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
    if needs_reclean(vessel, turnaround, now):
        return "The clean-hold time has passed again since the re-sanitise. Re-clean the vessel."
    return None


def may_sanitise_before_filling(vessel: VesselFacts, now: datetime) -> str | None:
    """Why a released vessel may not be sanitised for its filling now, or ``None`` when it may.

    It needs no samples and no decision, and it makes no release last longer.
    """
    turnaround = vessel.turnaround
    if turnaround is None:
        return f"{vessel.name} is in use."
    if actions_since_full_clean(turnaround):
        return "A reading is over the action limit. Re-clean the vessel instead."
    status = status_of(vessel, now)
    if status.code == Code.RELEASED or status.next == Next.SANITISE:
        return None
    return (
        f"{vessel.name} is not released: {status.code.label}. {status.detail}. Only a released "
        "vessel is sanitised before filling."
    )


def _standing_decision(turnaround: TurnaroundFacts) -> DecisionFacts | None:
    """The latest decision, while no clean was started after it.

    A re-sanitise does not end a hold. A vessel sanitised before filling stays released, unless
    a deviation was accepted meanwhile. A release ends when its meter fails the next control
    check: it stood on readings that are in doubt from then on.
    """
    if not turnaround.decisions:
        return None
    latest = turnaround.decisions[-1]
    if recalled(turnaround, latest):
        return None
    later = [
        c
        for c in turnaround.cleans
        if c.started_at >= latest.decided_at and (c.accepted or not c.before_filling)
    ]
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
    due_at = vessel.by_date.due_at if vessel.by_date is not None else None
    if vessel.by_date is not None and due_at is not None:
        detail += f", {vessel.by_date.words}"
    return Status(
        Code.IN_USE, vessel.filled_at, detail, Next.EMPTY, "Record emptying", due_at=due_at
    )


def _in_turnaround(vessel: VesselFacts, turnaround: TurnaroundFacts, now: datetime) -> Status:
    running = next(
        (c for c in turnaround.cleans if c.finished_at is None and c.stopped_at is None), None
    )
    if running is not None:
        return Status(
            Code.CLEANING, running.started_at, running.regime, Next.CONTINUE, "Continue clean"
        )
    if turnaround.entered_since is not None:
        inside = f"Somebody may be inside: {turnaround.entrants}"
        since = turnaround.entered_since
        return Status(Code.HELD, since, inside, Next.PERMIT, "Close entry permit")
    if held := _held(vessel, turnaround) or _in_doubt(vessel, turnaround):
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
        return _released(vessel, turnaround, decision, opened, now)
    stale = opened is not None or (ends is not None and ends <= now)
    if stale:
        why = "Opened since the clean" if opened else "The hold time has passed"
        code = Code.TO_SAMPLE if missing_points(vessel, turnaround) else Code.TO_DECIDE
        if needs_reclean(vessel, turnaround, now):
            why = "The clean-hold time has passed again"
            return Status(code, last.finished_at, why, Next.CLEAN, "Re-clean", due_at=ends)
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
    if stopped and turnaround.inside:
        # Not empty, and never shown as empty, until a rinse is proved.
        left = f"{detail}. Inside: {turnaround.inside}"
        return Status(Code.HELD, stopped, left, Next.CLEAN, "Rinse and clean")
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
    found, full = turnaround.allergen_found, last_full_clean(turnaround)
    if found is not None and full is not None and found.clean_pk == full.pk:
        return Status(
            Code.HELD,
            found.recorded_at,
            f"Allergen test positive: {found.allergen}",
            Next.CLEAN,
            "Re-clean",
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


def _in_doubt(vessel: VesselFacts, turnaround: TurnaroundFacts) -> Status | None:
    """Held where a release stood on readings in doubt, until each of them is read again."""
    decisions = turnaround.decisions
    waiting = results_in_doubt(vessel, turnaround)
    if not decisions or not waiting or not recalled(turnaround, decisions[-1]):
        return None
    first = waiting[0]
    points = ", ".join(dict.fromkeys(r.point for r in waiting))
    return Status(
        Code.HELD,
        min(r.in_doubt_since for r in waiting if r.in_doubt_since is not None),
        f"{first.meter} failed its control check after the release: {points} in doubt",
        Next.SAMPLE,
        f"Sample {first.point} again",
    )


def _released(
    vessel: VesselFacts,
    turnaround: TurnaroundFacts,
    decision: DecisionFacts,
    opened: datetime | None,
    now: datetime,
) -> Status:
    if opened is not None:
        return Status(
            Code.LAPSED,
            opened,
            "Opened since the release",
            Next.RESANITISE,
            "Re-sanitise",
        )
    ends = decision.lapses_at
    if ends is not None and ends <= now:
        step, text = Next.RESANITISE, "Re-sanitise"
        if needs_reclean(vessel, turnaround, now):
            step, text = Next.CLEAN, "Re-clean"
        return Status(Code.LAPSED, ends, "The release has lapsed", step, text)
    sanitised_until = sanitised_hold_ends_at(vessel, turnaround)
    if sanitised_until is not None and sanitised_until <= decision.decided_at:
        # The hold-time gate was waived: the waiver lasts one sanitised-hold from then.
        sanitised_until = decision.decided_at + vessel.hold_times.sanitised
    if sanitised_until is not None and sanitised_until <= now:
        return Status(
            Code.LAPSED,
            sanitised_until,
            "The sanitised-hold time has passed",
            Next.SANITISE,
            "Sanitise before filling",
            due_at=ends,
        )
    return Status(
        Code.RELEASED,
        decision.decided_at,
        f"Signed by {decision.by}",
        Next.FILL,
        "Record filling",
        due_at=min((end for end in (ends, sanitised_until) if end is not None), default=None),
    )

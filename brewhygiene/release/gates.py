"""The checks (gates) of a release, each with its answer and its evidence."""

import dataclasses
from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum
from typing import Any

from brewhygiene.atp.models.readings import Result, RinseEnd, Verdict
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import CleanLevel
from brewhygiene.people.models import User
from brewhygiene.quantities.words import BEFORE_RECORD, counted
from brewhygiene.release.queries import Dossier
from brewhygiene.release.status import (
    actions_since_full_clean,
    hold_ends_at,
    missing_points,
    needs_new_clean,
    opened_since,
)
from brewhygiene.turnarounds.models.deviations import Disposition
from brewhygiene.turnarounds.steps.safety import acknowledged_codes, codes_of_regime


class Answer(StrEnum):
    YES = "yes"
    EXPLAIN = "explain"  # passes with a reason from the one who signs
    NO = "no"


@dataclasses.dataclass(frozen=True)
class Gate:
    """One gate. ``waivable``: a NO may be overridden with a reason, by the site's setting."""

    code: str
    title: str
    answer: Answer
    evidence: tuple[str, ...]
    waivable: bool = False

    @property
    def needs_reason(self) -> bool:
        """Whether a release has to say something about this gate."""
        return self.answer == Answer.EXPLAIN or (self.answer == Answer.NO and self.waivable)

    @property
    def blocks(self) -> bool:
        return self.answer == Answer.NO and not self.waivable

    @property
    def two_sign(self) -> bool:
        """Whether a release past this gate takes a second person's signature."""
        return self.code in TWO_SIGN and self.answer == Answer.NO and self.waivable

    def as_record(self) -> dict[str, Any]:
        return {
            "code": self.code,
            "title": self.title,
            "answer": self.answer.value,
            "evidence": list(self.evidence),
        }


GATE_TITLES: dict[str, str] = {
    "in_service": "Vessel in service",
    "cleaned": "Clean finished",
    "safety": "Cautions acknowledged",
    "regime_strength": "Regime as strong as proposed",
    "deviations": "Regime followed, deviations decided",
    "dirty_hold": "Dirty-hold time kept",
    "sampled": "Required sampling points read",
    "rinse_end": "Rinse end checked before each reading",
    "control_check": "Control check passed that day",
    "stick_in_date": "ATP tests in date",
    "limits": "Approved limits for every reading",
    "nothing_over_action": "No reading over the action limit",
    "alerts": "Alerts explained",
    "plates": "No open positive plate",
    "hold_time": "Clean-hold and sanitised-hold times kept",
    "not_opened": "Not opened since the clean",
    "two_people": "Cleaned by one person, released by another",
}
# A site may allow its head brewer to waive any other gate.
NEVER_WAIVABLE = frozenset(
    {"in_service", "cleaned", "safety", "control_check", "limits", "two_people"}
)
# Past these no single person releases, whoever may.
TWO_SIGN = frozenset({"nothing_over_action"})


def gates_of(dossier: Dossier, *, brewery: Brewery, now: datetime, user: User | None) -> list[Gate]:
    """Every gate of a turnaround as it stands at ``now``, for ``user`` to decide. 0 queries."""
    answers: list[tuple[str, Answer, Iterable[str]]] = [
        ("in_service", *_in_service(dossier)),
        ("cleaned", *_cleaned(dossier)),
        ("safety", *_safety(dossier)),
        ("regime_strength", *_regime_strength(dossier)),
        ("deviations", *_deviations(dossier)),
        ("dirty_hold", *_dirty_hold(dossier)),
        ("sampled", *_sampled(dossier)),
        ("rinse_end", *_rinse_end(dossier)),
        ("control_check", *_control_check(dossier)),
        ("stick_in_date", *_swab_in_date(dossier, brewery)),
        ("limits", *_limits(dossier)),
        ("nothing_over_action", *_nothing_over_action(dossier)),
        ("alerts", *_alerts(dossier)),
        ("plates", *_plates(dossier)),
        ("hold_time", *_hold_time(dossier, now)),
        ("not_opened", *_not_opened(dossier)),
        ("two_people", *_two_people(dossier, brewery, user)),
    ]
    return [
        Gate(
            code=code,
            title=GATE_TITLES[code],
            answer=answer,
            evidence=tuple(evidence),
            waivable=code in brewery.waivable_gates and code not in NEVER_WAIVABLE,
        )
        for code, answer, evidence in answers
    ]


Found = tuple[Answer, Iterable[str]]
NO_CLEAN: Found = (Answer.NO, ["No finished clean"])
NO_SAMPLES: Found = (Answer.NO, ["No reading after the last clean"])


def _counted(dossier: Dossier) -> list[Result]:
    """Standing results of the last clean and of what followed it."""
    cleans = {c.clean.pk for c in dossier.counted_cleans}
    return [result for result in dossier.standing_results if result.clean_id in cleans]


def _in_service(dossier: Dossier) -> Found:
    facts = dossier.facts
    if facts.out_of_service_since is not None:
        return Answer.NO, [f"Out of service: {facts.out_of_service_reason}"]
    return Answer.YES, ["In service"]


def _cleaned(dossier: Dossier) -> Found:
    facts = dossier.facts.turnaround
    full = dossier.last_full_clean
    if full is None or facts is None:
        return NO_CLEAN
    if needs_new_clean(facts):
        return Answer.NO, ["The last clean was stopped"]
    if dossier.cleans[-1].clean.running:
        return Answer.NO, ["A clean is still running"]
    return Answer.YES, [
        f"{c.clean.version} ({c.clean.get_purpose_display()}), finished by {c.clean.finished_by}"
        + (f". {c.clean.afterwards_words}" if c.clean.entered_at is not None else "")
        for c in dossier.counted_cleans
    ]


def _safety(dossier: Dossier) -> Found:
    if not dossier.counted_cleans:
        return NO_CLEAN
    missing, done = [], 0
    for progress in dossier.counted_cleans:
        for item in progress.steps:
            needed = codes_of_regime(progress.clean, item.step)
            if item.state == "left_out" or not needed:
                continue
            if set(needed) - acknowledged_codes(progress.clean, item.step):
                missing.append(f"{item.step}: not acknowledged")
            else:
                done += 1
    if missing:
        return Answer.NO, missing
    if not done:
        return Answer.YES, ["No step has a caution"]
    return Answer.YES, [f"Cautions of {counted(done, 'step')} acknowledged before the start"]


def _regime_strength(dossier: Dossier) -> Found:
    full = dossier.last_full_clean
    if full is None:
        return NO_CLEAN
    clean = full.clean
    level = CleanLevel(clean.version.regime.level).label
    asked = [f"Proposed because: {reason}" for reason in clean.proposal_reasons]
    if clean.weaker_reason:
        return Answer.NO, [
            (
                f"{clean.version.regime.name} ({level}) is weaker than proposed "
                f"({clean.proposed_regime or 'none'}): {clean.weaker_reason}"
            ),
            *asked,
        ]
    return Answer.YES, [f"{clean.version.regime.name}: {level}", *asked]


def _deviations(dossier: Dossier) -> Found:
    if not dossier.counted_cleans:
        return NO_CLEAN
    found = [d for c in dossier.counted_cleans for item in c.steps for d in item.deviations]
    if not found:
        return Answer.YES, ["Every step run, every reading within its window"]
    evidence = [
        f"{d.description}: {d.decided_words or 'not decided'}"
        + (f", {d.reason}" if d.reason else "")
        + (f" ({d.disposed_by})" if d.disposed_by else "")
        for d in found
    ]
    if any(not d.disposition for d in found):
        return Answer.NO, evidence
    if any(d.disposition == Disposition.ACCEPT for d in found):
        return Answer.EXPLAIN, evidence
    return Answer.YES, evidence


def _dirty_hold(dossier: Dossier) -> Found:
    first = next((c.clean for c in dossier.cleans), None)
    if first is None:
        return NO_CLEAN
    if dossier.facts.turnaround is not None and dossier.facts.turnaround.emptied_before_record:
        return Answer.EXPLAIN, [
            f"Emptied {BEFORE_RECORD}, so how long it waited for its clean is not known"
        ]
    waited = first.started_at - dossier.turnaround.opened_at
    allowed = dossier.facts.hold_times.dirty
    hours = waited.total_seconds() / 3600
    text = (
        f"Cleaning started {hours:.1f} h after emptying, "
        f"dirty-hold time {allowed.total_seconds() / 3600:g} h"
    )
    return (Answer.YES if waited <= allowed else Answer.EXPLAIN), [text]


def _sampled(dossier: Dossier) -> Found:
    facts = dossier.facts.turnaround
    if facts is None or dossier.last_finished is None:
        return NO_CLEAN
    missing = missing_points(dossier.facts, facts)
    if missing:
        return Answer.NO, [f"{name}: not sampled" for name in missing]
    if not dossier.facts.required_points:
        return Answer.NO, ["No sampling point is required for release. Add one in the set-up"]
    last = dossier.last_finished.clean.pk
    return Answer.YES, [
        f"{r.point.name}: {r.rlu} RLU, {r.get_verdict_display()}, {r.get_stage_display()}"
        for r in dossier.standing_results
        if r.clean_id == last
    ]


def _rinse_end(dossier: Dossier) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    unknown = [r for r in results if r.rinse_end == RinseEnd.NOT_CHECKED]
    if unknown:
        return Answer.EXPLAIN, [
            f"{r.point.name}: rinse end not checked, residue can lower the reading" for r in unknown
        ]
    return Answer.YES, [f"{r.point.name}: {r.get_rinse_end_display()}" for r in results]


def _control_check(dossier: Dossier) -> Found:
    """Whether a passed control check stands before and after each reading.

    One without is answered by a fresh sample at the same point under a control that holds.
    """
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    unjudged = [r for r in results if dossier.without_control(r)]
    judged = [r for r in results if r not in unjudged]
    again = {
        r.pk
        for r in unjudged
        if any(j.point.pk == r.point.pk and j.taken_at > r.taken_at for j in judged)
    }
    waiting = [r for r in unjudged if r.pk not in again]
    if waiting:
        return Answer.NO, [
            f"{r.point.name}: unjudged, {r.meter.name} failed or missed its control check. Pass a "
            "fresh control check or use another meter, then sample again"
            for r in waiting
        ]
    shown = {
        f"{r.meter.name} on {r.control_check.checked_on}: blank {r.control_check.blank_rlu}, "
        f"positive {r.control_check.positive_rlu} RLU"
        for r in judged
        if r.control_check is not None
    }
    replaced = [
        f"{r.point.name}: {r.rlu} RLU unjudged, sampled again" for r in unjudged if r.pk in again
    ]
    return Answer.YES, [*sorted(shown), *replaced]


def _swab_in_date(dossier: Dossier, brewery: Brewery) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    late = [r for r in results if r.test_lot.expires_on < brewery_day(r.taken_at, brewery)]
    if late:
        return Answer.NO, [f"{r.point.name}: {r.test_lot} was out of date" for r in late]
    return Answer.YES, sorted(
        {f"{r.test_lot}, in date until {r.test_lot.expires_on}" for r in results}
    )


def _limits(dossier: Dossier) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    unjudged = [r for r in results if r.verdict == Verdict.UNJUDGED]
    if unjudged:
        return Answer.NO, [
            f"{r.point.name}: {r.rlu} RLU unjudged, {r.meter.name} has no approved limits for "
            f"{r.test_lot.atp_test.name}"
            for r in unjudged
        ]
    return Answer.YES, sorted({str(r.limits) for r in results})


def _nothing_over_action(dossier: Dossier) -> Found:
    facts = dossier.facts.turnaround
    results = _counted(dossier)
    if facts is None or not results:
        return NO_SAMPLES
    over = actions_since_full_clean(facts)
    if over:
        return Answer.NO, [f"{r.point}: {r.rlu} RLU, over the action limit" for r in over]
    return Answer.YES, [f"Highest reading {max(r.rlu for r in results)} RLU"]


def _alerts(dossier: Dossier) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    alerts = [r for r in results if r.verdict == Verdict.ALERT]
    if alerts:
        return Answer.EXPLAIN, [
            f"{r.point.name}: {r.rlu} RLU, over the alert level" + (f": {r.note}" if r.note else "")
            for r in alerts
        ]
    return Answer.YES, ["No reading over the alert level"]


def _plates(dossier: Dossier) -> Found:
    if dossier.open_plates:
        return Answer.NO, [f"{p.point.name}, {p.medium}: positive" for p in dossier.open_plates]
    pending = sum(plate.state == "pending" for plate in dossier.plates)
    if not pending:
        return Answer.YES, ["No open positive plate"]
    return Answer.YES, [
        f"None positive, {counted(pending, 'plate')} of this turnaround still growing"
    ]


def _hold_time(dossier: Dossier, now: datetime) -> Found:
    facts = dossier.facts.turnaround
    ends = hold_ends_at(dossier.facts, facts) if facts else None
    if ends is None:
        return NO_CLEAN
    hold_times = dossier.facts.hold_times
    rule = (
        f"clean-hold time {hold_times.clean.total_seconds() / 3600:g} h, "
        f"sanitised-hold time {hold_times.sanitised.total_seconds() / 3600:g} h"
    )
    left = (ends - now).total_seconds() / 3600
    if left <= 0:
        return Answer.NO, [f"Passed {abs(left):.1f} h ago ({rule}): re-sanitise and sample again"]
    return Answer.YES, [f"{left:.1f} h left ({rule})"]


def _not_opened(dossier: Dossier) -> Found:
    facts = dossier.facts.turnaround
    if facts is None or dossier.last_finished is None:
        return NO_CLEAN
    if opened_since(facts) is not None:
        return Answer.NO, [f"Opened: {dossier.openings[-1].reason}"]
    return Answer.YES, ["Closed since the clean"]


def _two_people(dossier: Dossier, brewery: Brewery, user: User | None) -> Found:
    if user is None or user.pk not in dossier.workers:
        return Answer.YES, ["The signer did not work on this clean"]
    text = f"{user} worked on this clean"
    if not brewery.self_release_allowed:
        return Answer.NO, [f"{text}, and this brewery does not allow a self-release"]
    return Answer.EXPLAIN, [f"{text}, so this is a self-release"]

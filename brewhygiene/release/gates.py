"""The checks (gates) of a release, each with its answer and its evidence."""

import dataclasses
from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum
from functools import partial
from typing import Any

from brewhygiene.atp.models.readings import Result, RinseEnd, Verdict
from brewhygiene.atp.recovery.dimming import not_proved
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.cellar.models import CleanLevel
from brewhygiene.cellar.moments import SamplingMoment
from brewhygiene.people.models import User
from brewhygiene.quantities.words import counted
from brewhygiene.release.clocks import clean_hold_ends_at, counted_from, needs_reclean
from brewhygiene.release.queries import Dossier
from brewhygiene.release.status import (
    actions_since_full_clean,
    hold_ends_at,
    missing_points,
    needs_new_clean,
    opened_since,
)
from brewhygiene.turnarounds.models.deviations import Disposition
from brewhygiene.turnarounds.steps.safety import acknowledged_codes, asks_for_checks


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
    "recovery": "Sanitiser proved not to dim readings",
    "plates": "No open positive plate",
    "hold_time": "Clean-hold and sanitised-hold times kept",
    "not_opened": "Not opened since the clean",
    "two_people": "Cleaned by one person, released by another",
}
# A site may allow its head brewer to waive any other gate.
NEVER_WAIVABLE = frozenset({"in_service", "cleaned", "safety", "limits", "two_people"})


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
        ("recovery", *_recovery(dossier, brewery)),
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
        for c in dossier.counted_cleans
    ]


def _safety(dossier: Dossier) -> Found:
    if not dossier.counted_cleans:
        return NO_CLEAN
    missing, done = [], 0
    for progress in dossier.counted_cleans:
        for item in progress.steps:
            if item.state == "left_out" or not asks_for_checks(progress.clean, item.step):
                continue
            if not acknowledged_codes(progress.clean, item.step):
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
    # The one that counts; until one is finished, the first that was started.
    counts = dossier.last_full_clean or next(iter(dossier.cleans), None)
    if counts is None:
        return NO_CLEAN
    waited = counts.clean.started_at - dossier.turnaround.opened_at
    allowed = dossier.facts.hold_times.dirty
    hours = waited.total_seconds() / 3600
    text = (
        f"The clean that counts started {hours:.1f} h after emptying, "
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
    since = counted_from(dossier.facts, facts)
    return Answer.YES, [
        f"{r.point.name}: {r.rlu} RLU, {r.get_verdict_display()}, {r.moment_words}"
        for r in dossier.standing_results
        if since is not None and r.clean_id >= since.samples_pk
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
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    bad = [
        r
        for r in results
        if r.control_check is None
        or not r.control_check.passed
        or r.pk in dossier.failed_checks_later
    ]
    if bad:
        return Answer.NO, [
            f"{r.point.name}: {r.meter.name} failed or missed its control check that day"
            for r in bad
        ]
    shown = {
        f"{r.meter.name} on {r.control_check.checked_on}: blank {r.control_check.blank_rlu}, "
        f"positive {r.control_check.positive_rlu} RLU"
        for r in results
        if r.control_check is not None
    }
    return Answer.YES, sorted(shown)


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
            f"{r.test_lot.atp_test.name}, {r.moment_words}"
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


def _recovery(dossier: Dossier, brewery: Brewery) -> Found:
    results = _counted(dossier)
    if not results:
        return NO_SAMPLES
    inside = [r for r in results if r.moment == SamplingMoment.IN_SANITISER]
    if not inside:
        return Answer.YES, ["No reading was taken in a sanitiser"]
    cleans, day_of = dossier.counted_cleans, partial(brewery_day, brewery=brewery)
    if missing := not_proved(cleans, inside, dossier.recovery_studies, day_of=day_of):
        return Answer.EXPLAIN, missing
    return Answer.YES, [f"{r.point.name}: proved not to be dimmed" for r in inside]


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
        return Answer.NO, [f"Passed {abs(left):.1f} h ago ({rule}): {_what_to_do(dossier, now)}"]
    return Answer.YES, [f"{left:.1f} h left ({rule})"]


def _what_to_do(dossier: Dossier, now: datetime) -> str:
    facts = dossier.facts.turnaround
    assert facts is not None
    if needs_reclean(dossier.facts, facts, now):
        return "re-clean, a re-sanitise renews the clean-hold once"
    clean_ends = clean_hold_ends_at(dossier.facts, facts)
    if clean_ends is not None and clean_ends > now:
        return "sanitise again, the samples still count"
    return "re-sanitise and sample again"


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

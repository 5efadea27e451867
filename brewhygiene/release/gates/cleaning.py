"""The gates on the vessel and its cleans."""

from brewhygiene.cellar.models import CleanLevel
from brewhygiene.delivery.arrivals import NOT_VERIFIED
from brewhygiene.quantities.style import digits
from brewhygiene.quantities.words import BEFORE_RECORD, counted
from brewhygiene.regimes.cautions import heat_left
from brewhygiene.regimes.models import Step
from brewhygiene.release.gates.answers import NO_CLEAN, Answer, Found
from brewhygiene.release.queries import Dossier
from brewhygiene.release.standing.clocks import needs_new_clean
from brewhygiene.turnarounds.models.deviations import Disposition
from brewhygiene.turnarounds.observations.asked import observed_in
from brewhygiene.turnarounds.steps.safety import acknowledged_codes, asks_for_checks


def in_service(dossier: Dossier) -> Found:
    facts = dossier.facts
    if facts.out_of_service_since is not None:
        return Answer.NO, [f"Out of service: {facts.out_of_service_reason}"]
    return Answer.YES, ["In service"]


def cleaned(dossier: Dossier) -> Found:
    facts = dossier.facts.turnaround
    full = dossier.last_full_clean
    if full is None or facts is None:
        return NO_CLEAN
    if needs_new_clean(facts):
        return Answer.NO, ["The last clean was stopped"]
    if dossier.cleans[-1].clean.running:
        return Answer.NO, ["A clean is still running"]
    finished = [
        f"{c.clean.version} ({c.clean.get_purpose_display()}), finished by {c.clean.finished_by}"
        + (f". {c.clean.afterwards_words}" if c.clean.entered_at is not None else "")
        for c in dossier.counted_cleans
    ]
    return Answer.YES, [*finished, *_seen(dossier)]


def _seen(dossier: Dossier) -> list[str]:
    """How the vessel looked, smelled and drained, by step and by whom."""
    said = []
    for progress in dossier.counted_cleans:
        for item in progress.steps:
            if seen := observed_in(item.attempts):
                words = ", ".join(
                    f"{one.words} (with photo)" if one.photo else one.words for one in seen
                )
                said.append(f"{item.step}: {words}, seen by {seen[-1].record.ended_by}")
    return said


def names_verified(dossier: Dossier) -> Found:
    """What was recorded without a network in a name that nobody checked counts once confirmed."""
    if not dossier.stated_names:
        return Answer.YES, ["Nothing is recorded by a name that is only stated"]
    return Answer.NO, [
        f"{one.subject_label[:1].upper()}{one.subject_label[1:]}, {one.name}: {NOT_VERIFIED} "
        f"({one.person})"
        for one in dossier.stated_names
    ]


def safety_checked(dossier: Dossier) -> Found:
    if not dossier.counted_cleans:
        return NO_CLEAN
    missing, done = [], 0
    counted_cleans = {progress.clean.pk for progress in dossier.counted_cleans}
    ran: list[Step] = []  # in the whole turnaround, for the heat that they leave
    for progress in dossier.cleans:
        for item in progress.steps:
            if item.state == "left_out":
                continue
            heat = heat_left(ran)
            if item.attempts:
                ran.append(item.step)
            if progress.clean.pk not in counted_cleans:
                continue
            # What was read, and what was left in the vessel, may have asked for more.
            if acknowledged_codes(progress.clean, item.step):
                done += 1
            elif asks_for_checks(progress.clean, item.step, heat_before=heat):
                missing.append(f"{item.step}: not acknowledged")
    if missing:
        return Answer.NO, missing
    if not done:
        return Answer.YES, ["No step has a caution"]
    return Answer.YES, [f"Cautions of {counted(done, 'step')} acknowledged before the start"]


def regime_strong_enough(dossier: Dossier) -> Found:
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


def deviations_decided(dossier: Dossier) -> Found:
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


def dirty_hold_kept(dossier: Dossier) -> Found:
    # The one that counts; until one is finished, the first that was started.
    counts = dossier.last_full_clean or next(iter(dossier.cleans), None)
    if counts is None:
        return NO_CLEAN
    if dossier.facts.turnaround is not None and dossier.facts.turnaround.emptied_before_record:
        return Answer.EXPLAIN, [
            f"Emptied {BEFORE_RECORD}, so how long it waited for its clean is not known"
        ]
    waited = counts.clean.started_at - dossier.turnaround.opened_at
    allowed = dossier.facts.hold_times.dirty
    hours = waited.total_seconds() / 3600
    text = (
        f"The clean that counts started {digits(hours, '.1f')} h after emptying, "
        f"dirty-hold time {digits(allowed.total_seconds() / 3600, 'g')} h"
    )
    return (Answer.YES if waited <= allowed else Answer.EXPLAIN), [text]

"""The checks (gates) of a release, each with its answer and its evidence."""

from collections.abc import Iterable
from datetime import datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.changeovers.turnaround import evidence_of
from brewhygiene.people.models import User
from brewhygiene.quantities.style import digits
from brewhygiene.quantities.words import counted
from brewhygiene.release.gates.answers import NO_CLEAN, TWO_SIGN, Answer, Found, Gate
from brewhygiene.release.gates.cleaning import (
    cleaned,
    deviations_decided,
    dirty_hold_kept,
    in_service,
    names_verified,
    regime_strong_enough,
    safety_checked,
)
from brewhygiene.release.gates.samples import (
    alerts_explained,
    controls_passed,
    limits_approved,
    nothing_over_action,
    points_sampled,
    recovery_proved,
    rinse_end_checked,
    tests_in_date,
)
from brewhygiene.release.queries import Dossier
from brewhygiene.release.standing.clocks import (
    clean_hold_ends_at,
    hold_ends_at,
    needs_reclean,
    opened_since,
)

__all__ = ["GATE_TITLES", "NEVER_WAIVABLE", "TWO_SIGN", "Answer", "Gate", "gates_of"]

GATE_TITLES: dict[str, str] = {
    "in_service": "Vessel in service",
    "cleaned": "Clean finished",
    "safety": "Cautions acknowledged",
    "regime_strength": "Regime as strong as proposed",
    "names": "Every record by a verified name",
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
    "allergens": "No allergen crosses into the next beer",
    "hold_time": "Clean-hold and sanitised-hold times kept",
    "not_opened": "Not opened since the clean",
    "two_people": "Cleaned by one person, released by another",
}
# A site may allow its head brewer to waive any other gate.
NEVER_WAIVABLE = frozenset(
    {"in_service", "cleaned", "safety", "control_check", "limits", "allergens", "two_people"}
)


def gates_of(dossier: Dossier, *, brewery: Brewery, now: datetime, user: User | None) -> list[Gate]:
    """Every gate of a turnaround as it stands at ``now``, for ``user`` to decide. 0 queries."""
    answers: list[tuple[str, Answer, Iterable[str]]] = [
        ("in_service", *in_service(dossier)),
        ("cleaned", *cleaned(dossier)),
        ("safety", *safety_checked(dossier)),
        ("regime_strength", *regime_strong_enough(dossier)),
        ("names", *names_verified(dossier)),
        ("deviations", *deviations_decided(dossier)),
        ("dirty_hold", *dirty_hold_kept(dossier)),
        ("sampled", *points_sampled(dossier)),
        ("rinse_end", *rinse_end_checked(dossier)),
        ("control_check", *controls_passed(dossier)),
        ("stick_in_date", *tests_in_date(dossier, brewery)),
        ("limits", *limits_approved(dossier)),
        ("nothing_over_action", *nothing_over_action(dossier)),
        ("alerts", *alerts_explained(dossier)),
        ("recovery", *recovery_proved(dossier, brewery)),
        ("plates", *no_positive_plate(dossier)),
        ("allergens", *no_allergen_crosses(dossier)),
        ("hold_time", *hold_times_kept(dossier, now)),
        ("not_opened", *not_opened(dossier)),
        ("two_people", *two_people(dossier, brewery, user)),
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


def no_positive_plate(dossier: Dossier) -> Found:
    if dossier.open_plates:
        return Answer.NO, [f"{p.point.name}, {p.medium}: positive" for p in dossier.open_plates]
    if unknown := [p for p in dossier.plates if p.not_known and p.state != "positive"]:
        return Answer.EXPLAIN, [f"{p.point.name}, {p.medium}: {p.not_known}" for p in unknown]
    pending = sum(plate.state == "pending" for plate in dossier.plates)
    if not pending:
        return Answer.YES, ["No open positive plate"]
    return Answer.YES, [
        f"None positive, {counted(pending, 'plate')} of this turnaround still growing"
    ]


def no_allergen_crosses(dossier: Dossier) -> Found:
    full = dossier.last_full_clean
    evidence = evidence_of(dossier.changeover, full.clean if full else None)
    return (Answer.NO if dossier.changeover.crossing else Answer.YES), evidence


def hold_times_kept(dossier: Dossier, now: datetime) -> Found:
    facts = dossier.facts.turnaround
    ends = hold_ends_at(dossier.facts, facts) if facts else None
    if ends is None:
        return NO_CLEAN
    hold_times = dossier.facts.hold_times
    rule = (
        f"clean-hold time {digits(hold_times.clean.total_seconds() / 3600, 'g')} h, "
        f"sanitised-hold time {digits(hold_times.sanitised.total_seconds() / 3600, 'g')} h"
    )
    left = (ends - now).total_seconds() / 3600
    if left <= 0:
        return Answer.NO, [
            f"Passed {digits(abs(left), '.1f')} h ago ({rule}): {_what_to_do(dossier, now)}"
        ]
    return Answer.YES, [f"{digits(left, '.1f')} h left ({rule})"]


def _what_to_do(dossier: Dossier, now: datetime) -> str:
    facts = dossier.facts.turnaround
    assert facts is not None
    if needs_reclean(dossier.facts, facts, now):
        return "re-clean, a re-sanitise renews the clean-hold once"
    clean_ends = clean_hold_ends_at(dossier.facts, facts)
    if clean_ends is not None and clean_ends > now:
        return "sanitise again, the samples still count"
    return "re-sanitise and sample again"


def not_opened(dossier: Dossier) -> Found:
    facts = dossier.facts.turnaround
    if facts is None or dossier.last_finished is None:
        return NO_CLEAN
    if opened_since(facts) is not None:
        return Answer.NO, [f"Opened: {dossier.openings[-1].reason}"]
    return Answer.YES, ["Closed since the clean"]


def two_people(dossier: Dossier, brewery: Brewery, user: User | None) -> Found:
    if user is None or user.pk not in dossier.workers:
        return Answer.YES, ["The signer did not work on this clean"]
    text = f"{user} worked on this clean"
    if not brewery.self_release_allowed:
        return Answer.NO, [f"{text}, and this brewery does not allow a self-release"]
    return Answer.EXPLAIN, [f"{text}, so this is a self-release"]

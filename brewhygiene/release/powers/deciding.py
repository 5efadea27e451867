"""What the usual decision and the one without a meter have in common."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.recording import Actor, Recorded
from brewhygiene.people.models import Signature
from brewhygiene.refusals import Refusal
from brewhygiene.release.gates import Gate
from brewhygiene.release.models import Decision, DecisionKind, Outcome
from brewhygiene.release.powers.explaining import Explanation, checked_explanation, explained
from brewhygiene.release.powers.rules import rules_in_force
from brewhygiene.release.queries import Dossier
from brewhygiene.release.standing.clocks import clean_hold_ends_at
from brewhygiene.turnarounds.actions import raise_revision, refuse_while_entered
from brewhygiene.turnarounds.models import Turnaround


def refuse_stale(turnaround: Turnaround, revision_seen: int) -> None:
    """Refuse a decision on something that has changed since it was looked at."""
    if turnaround.revision == revision_seen:
        return
    latest = turnaround.decisions.select_related("signature").order_by("-pk").first()
    who = (
        f" The last decision is {latest.outcome}, signed by {latest.signature.printed_name}."
        if latest
        else ""
    )
    raise Refusal(
        "Something was recorded on this vessel while this page was open."
        + who
        + " Check the page before you sign.",
        code="stale",
    )


def refuse_blocked(gates: Sequence[Gate]) -> None:
    """Refuse a release that a gate blocks, with each gate's first line."""
    blocked = [gate for gate in gates if gate.blocks]
    if blocked:
        raise Refusal(
            "This vessel cannot be released. "
            + " ".join(f"{gate.title}: no. {gate.evidence[0]}." for gate in blocked),
            field="outcome",
            code="blocked",
        )


def all_explained(
    gates: Sequence[Gate], given: Mapping[str, Explanation]
) -> dict[str, Explanation]:
    """The explanation of every gate that needs one; refused beside the field that lacks it."""
    return {
        gate.code: checked_explanation(gate.code, gate.title, given.get(gate.code))
        for gate in gates
        if gate.needs_reason
    }


def what_is_explained(
    gates: Sequence[Gate], given: Mapping[str, Explanation]
) -> dict[str, Explanation]:
    """What was explained in full although nothing had to be: a hold needs its own reason only."""
    found: dict[str, Explanation] = {}
    for gate in gates:
        if gate.needs_reason:
            try:
                found |= all_explained([gate], given)
            except Refusal:
                continue
    return found


def lapses_at(dossier: Dossier, *, now: datetime) -> datetime:
    """When a release given now lapses."""
    turnaround = dossier.facts.turnaround
    ends = clean_hold_ends_at(dossier.facts, turnaround) if turnaround else None
    if ends is None or ends <= now:
        # The hold-time gate was waived: the waiver lasts one sanitised-hold from now.
        return now + dossier.facts.hold_times.sanitised
    return ends


def keep_decision(
    *,
    by: Actor,
    dossier: Dossier,
    gates: Sequence[Gate],
    outcome: str,
    signature: Signature,
    brewery: Brewery,
    kind: str = DecisionKind.USUAL,
    second: Signature | None = None,
    explanations: Mapping[str, Explanation],
    stands_in: Mapping[str, str] | None = None,
    reason: str = "",
    ends: datetime | None = None,
) -> Recorded[Decision]:
    """Write a decision with the gates, the explanations and the rules as they stood.

    ``stands_in`` is what stood in for the readings of a dead meter, in words by what it is.
    """
    turnaround = dossier.turnaround
    if outcome == Outcome.RELEASE:
        refuse_while_entered(turnaround)
    told = explained(explanations, user=by.person)
    instead = dict(stands_in or {})
    if instead:
        told.words["control_check"] = " ".join(
            f"{title}: {text.rstrip('.')}." for title, text in instead.items()
        )
    decision = Decision.objects.create(
        turnaround=turnaround,
        clean=dossier.last_finished.clean if dossier.last_finished else None,
        outcome=outcome,
        decided_at=by.now,
        signature=signature,
        reason=reason.strip(),
        gates=[gate.as_record() for gate in gates],
        waivers=told.words,
        explanations=told.explanations,
        lapses_at=ends,
        self_release=outcome == Outcome.RELEASE and by.person.pk in dossier.workers,
        kind=kind,
        second_signature=second,
        without_meter=instead,
        rules=rules_in_force(brewery),
    )
    raise_revision(turnaround)
    values: dict[str, Any] = {
        "outcome": outcome,
        "reason": decision.reason,
        "gates": decision.gates,
        "waivers": decision.waivers,
        "lapses_at": ends,
        "self_release": decision.self_release,
        "signed_by": by.name,
    }
    if second is not None:
        values |= {"kind": kind, "second_signed_by": second.printed_name}
    if instead:
        values["without_meter"] = instead
    return Recorded(decision, values, aggregate=turnaround)

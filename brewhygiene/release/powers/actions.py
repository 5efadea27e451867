"""Releasing without a working meter."""

from collections.abc import Mapping

from brewhygiene.atp.meters.queries import meters_that_work
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import brewery_day
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.models import User
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.people.signing_in.second_signature import check_second_signer, countersign
from brewhygiene.refusals import Refusal
from brewhygiene.release.gates import gates_of
from brewhygiene.release.models import Decision, DecisionKind, Outcome
from brewhygiene.release.powers.deciding import (
    all_explained,
    keep_decision,
    lapses_at,
    refuse_stale,
)
from brewhygiene.release.powers.explaining import Explanation
from brewhygiene.release.powers.no_meter import (
    SeenAtVessel,
    checked_at_vessel,
    other_gates,
    stands_in,
    why_not,
)
from brewhygiene.release.queries import load_dossier
from brewhygiene.turnarounds.actions import lock_open_turnaround
from brewhygiene.turnarounds.models import Turnaround


@action("release without meter")
def release_without_meter(
    *,
    by: Actor,
    turnaround: Turnaround,
    password: str,
    revision_seen: int,
    seen: SeenAtVessel,
    second_signer: User | None,
    second_secret: str,
    gate_reasons: Mapping[str, Explanation] | None = None,
) -> Recorded[Decision]:
    """Release a vessel although no meter works, signed by two people, one a head brewer.

    Inspection, rinse pH, the strengths on record and a plate stand in for the readings. Every
    check that is not about readings has to pass as for any release.
    """
    user = require(by, "decide_release")
    turnaround = lock_open_turnaround(turnaround)
    refuse_stale(turnaround, revision_seen)
    brewery = Brewery.current()
    dossier = load_dossier(turnaround, now=by.now)
    gates = gates_of(dossier, brewery=brewery, now=by.now, user=user)
    working = meters_that_work(brewery_day(by.now, brewery))
    if reasons := why_not(dossier, gates, working):
        raise Refusal(" ".join(reasons), code="not_without_meter")
    seen = checked_at_vessel(seen)
    explanations = all_explained(other_gates(gates), gate_reasons or {})
    second = check_second_signer(by=by, person=second_signer)
    meaning = f"Release of {turnaround.vessel.name} without a working meter"
    return keep_decision(
        by=by,
        dossier=dossier,
        gates=gates,
        outcome=Outcome.RELEASE,
        signature=sign(by=by, password=password, meaning=meaning),
        brewery=brewery,
        kind=DecisionKind.WITHOUT_METER,
        second=countersign(by=by, person=second, secret=second_secret, meaning=meaning),
        explanations=explanations,
        stands_in=stands_in(dossier, seen),
        ends=lapses_at(dossier, now=by.now),
    )

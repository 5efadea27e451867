"""Actions of the release room: decide, re-sanitise, fill."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from brewhygiene.brewery.models import Brewery
from brewhygiene.cellar.models import Beer, Fill, Vessel
from brewhygiene.changeovers.crossing import refuse_crossing
from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.models import User
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.people.signing_in.second_signature import countersign
from brewhygiene.quantities.style import digits, told
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import RegimeVersion
from brewhygiene.release.gates import gates_of
from brewhygiene.release.models import Decision, DecisionKind, Outcome
from brewhygiene.release.powers.deciding import (
    all_explained,
    keep_decision,
    lapses_at,
    refuse_blocked,
    refuse_stale,
    what_is_explained,
)
from brewhygiene.release.powers.explaining import Explanation
from brewhygiene.release.powers.signers import second_over_action
from brewhygiene.release.queries import load_dossier, state_of
from brewhygiene.release.questions import batch_of_fill
from brewhygiene.release.status import Code, may_resanitise, may_sanitise_before_filling
from brewhygiene.skids.models import Skid
from brewhygiene.turnarounds import actions as turnaround_actions
from brewhygiene.turnarounds.actions import (
    check_when,
    close_turnaround,
    lock_open_turnaround,
    lock_turnaround,
    refuse_while_entered,
)
from brewhygiene.turnarounds.models import Clean, CleanPurpose, Turnaround


@action("decide")
def decide(
    *,
    by: Actor,
    turnaround: Turnaround,
    outcome: str,
    password: str,
    revision_seen: int,
    reason: str = "",
    gate_reasons: Mapping[str, Explanation] | None = None,
    second_signer: User | None = None,
    second_secret: str = "",
) -> Recorded[Decision]:
    """Hold or release a vessel, signed with the password.

    ``revision_seen`` is the turnaround's revision that the person looked at: a decision on
    something that has changed since is refused. ``gate_reasons`` explains by gate code alerts,
    accepted deviations and gates waived. A refusal for one gate names the field
    ``reason_<code>``, ``checked_<code>`` or ``result_<code>``. A release over the action limit is
    signed by a second person too, with ``second_secret``, their PIN or password.
    """
    user = require(by, "decide_release")
    turnaround = lock_open_turnaround(turnaround)
    if outcome not in Outcome.values:
        raise Refusal("Choose hold or release.", field="outcome")
    refuse_stale(turnaround, revision_seen)
    if outcome == Outcome.HOLD and not reason.strip():
        raise Refusal("Enter a reason for the hold.", field="reason", code="no_reason")
    brewery = Brewery.current()
    dossier = load_dossier(turnaround, now=by.now)
    gates = gates_of(dossier, brewery=brewery, now=by.now, user=user)
    given = gate_reasons or {}
    meaning = f"{outcome.capitalize()} of {turnaround.vessel.name}"
    if outcome == Outcome.HOLD:
        return keep_decision(
            by=by,
            dossier=dossier,
            gates=gates,
            outcome=outcome,
            signature=sign(by=by, password=password, meaning=meaning),
            brewery=brewery,
            explanations=what_is_explained(gates, given),
            reason=reason,
        )
    refuse_blocked(gates)
    explanations = all_explained(gates, given)
    kind, second, second_signature = DecisionKind.USUAL, None, None
    if any(gate.two_sign for gate in gates):
        kind = DecisionKind.TWO_SIGNERS
        second = second_over_action(by=by, dossier=dossier, person=second_signer)
    signature = sign(by=by, password=password, meaning=meaning)
    if second is not None:
        second_signature = countersign(
            by=by,
            person=second,
            secret=second_secret,
            meaning=f"{meaning}, over the action limit",
        )
    return keep_decision(
        by=by,
        dossier=dossier,
        gates=gates,
        outcome=outcome,
        signature=signature,
        brewery=brewery,
        kind=kind,
        second=second_signature,
        explanations=explanations,
        reason=reason,
        ends=lapses_at(dossier, now=by.now),
    )


@action("re-sanitise")
def resanitise(
    *,
    by: Actor,
    turnaround: Turnaround,
    version: RegimeVersion,
    skid: Skid | None = None,
    hose: Skid | None = None,
) -> Recorded[Clean]:
    """Start a re-sanitise, where a lapse or an opening asks for one."""
    require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    state = state_of(turnaround.vessel, now=by.now)
    if (why_not := may_resanitise(state.facts, by.now)) is not None:
        raise Refusal(why_not, code="no_resanitise")
    clean = turnaround_actions.start_resanitise(
        by=by.inner(), turnaround=turnaround, version=version, skid=skid, hose=hose
    )
    return Recorded(
        clean, {"regime": str(version), "because": state.status.detail}, aggregate=turnaround
    )


@action("sanitise before filling")
def sanitise_before_filling(
    *,
    by: Actor,
    turnaround: Turnaround,
    version: RegimeVersion,
    skid: Skid | None = None,
    hose: Skid | None = None,
) -> Recorded[Clean]:
    """Start to sanitise a released vessel for its filling. Its release lasts no longer by it."""
    require(by, "work_cellar")
    turnaround = lock_open_turnaround(turnaround)
    state = state_of(turnaround.vessel, now=by.now)
    if (why_not := may_sanitise_before_filling(state.facts, by.now)) is not None:
        raise Refusal(why_not, code="not_released")
    clean = turnaround_actions.start_resanitise(
        by=by.inner(),
        turnaround=turnaround,
        version=version,
        purpose=CleanPurpose.BEFORE_FILLING,
        skid=skid,
        hose=hose,
    )
    return Recorded(
        clean, {"regime": str(version), "because": state.status.detail}, aggregate=turnaround
    )


def _check_fill(
    *, by: Actor, vessel: Vessel, batch: str, volume_hl: float, filled_at: datetime
) -> datetime:
    if not batch.strip():
        raise Refusal("Enter the batch.", field="batch")
    if volume_hl <= 0:
        raise Refusal("Enter a volume above 0.", field="volume_hl")
    if volume_hl > vessel.volume_hl * 1.0001:
        with told():
            raise Refusal(
                f"{vessel.name} takes {digits(vessel.volume_hl, 'g')} hL. "
                f"{digits(volume_hl, 'g')} hL do not fit.",
                field="volume_hl",
            )
    return check_when(filled_at, by=by, field="filled_at")


def _way(through: Sequence[Vessel] | None) -> dict[str, list[str]]:
    """What it came through, for the ledger; nothing where nothing was named."""
    return {"through": [vessel.name for vessel in through]} if through else {}


@action("fill vessel")
def fill_vessel(
    *,
    by: Actor,
    turnaround: Turnaround,
    beer: Beer,
    batch: str,
    volume_hl: float,
    filled_at: datetime,
    through: Sequence[Vessel] | None = (),
) -> Recorded[Fill]:
    """Fill a released vessel, ``volume_hl`` hL, which closes its turnaround.

    Refused with the reason unless the release stands now and stood when it was filled, and where
    an allergen or a mixed culture would cross over.
    ``through`` is what it came through; ``None`` where the caller records its way.
    """
    user = require(by, "fill_vessel")
    turnaround = lock_open_turnaround(turnaround)
    vessel = turnaround.vessel
    filled_at = _check_fill(
        by=by, vessel=vessel, batch=batch, volume_hl=volume_hl, filled_at=filled_at
    )
    for moment in (by.now, filled_at):
        status = state_of(vessel, now=moment).status
        # A time is typed to the minute.
        since = status.since.replace(second=0, microsecond=0) if status.since else moment
        if status.code != Code.RELEASED or moment < since:
            raise Refusal(
                f"{vessel.name} is not released: {status.code.label}. {status.detail}."
                if status.code != Code.RELEASED
                else f"{vessel.name} was not yet released at that time.",
                field=None if status.code != Code.RELEASED else "filled_at",
                code="not_released",
            )
    refuse_crossing(beer, until=filled_at, into=vessel, through=through or ())
    fill = Fill.objects.create(
        vessel=vessel,
        beer=beer,
        batch=batch.strip(),
        volume_hl=volume_hl,
        filled_at=filled_at,
        recorded_by=user,
    )
    batch_of_fill(by, fill, through)
    close_turnaround(by=by, turnaround=turnaround, fill=fill)
    return Recorded(
        fill,
        {
            "beer": beer.name,
            "batch": fill.batch,
            "volume_hl": volume_hl,
            "filled_at": filled_at,
            **_way(through),
        },
        aggregate=turnaround,
    )


@action("record fill without release")
def record_fill_without_release(
    *,
    by: Actor,
    turnaround: Turnaround,
    beer: Beer,
    batch: str,
    volume_hl: float,
    filled_at: datetime,
    reason: str,
    password: str,
    through: Sequence[Vessel] = (),
) -> Recorded[Fill]:
    """Record a fill that happened although the vessel was not released, signed with a reason."""
    user = require(by, "record_irregular_fill")
    turnaround = lock_open_turnaround(turnaround)
    refuse_while_entered(turnaround)
    vessel = turnaround.vessel
    filled_at = _check_fill(
        by=by, vessel=vessel, batch=batch, volume_hl=volume_hl, filled_at=filled_at
    )
    if filled_at < turnaround.opened_at:
        raise Refusal("Enter a time after the emptying.", field="filled_at")
    if not reason.strip():
        raise Refusal("Enter how the vessel came to be filled.", field="reason")
    state = state_of(vessel, now=by.now)
    if state.status.code == Code.RELEASED:
        raise Refusal(f"{vessel.name} is released. Record the filling as usual.", code="released")
    fill = Fill.objects.create(
        vessel=vessel,
        beer=beer,
        batch=batch.strip(),
        volume_hl=volume_hl,
        filled_at=filled_at,
        recorded_by=user,
        without_release=True,
        without_release_reason=reason.strip(),
        without_release_signature=sign(
            by=by, password=password, meaning=f"Recorded a fill of {vessel.name} without release"
        ),
    )
    batch_of_fill(by, fill, through)
    running = turnaround.cleans.filter(finished_at__isnull=True, stopped_at__isnull=True).first()
    if running is not None:
        turnaround_actions.stop_clean(
            by=by.inner(), clean=running, reason="The vessel was filled during the clean"
        )
    close_turnaround(by=by, turnaround=lock_turnaround(turnaround), fill=fill)
    return Recorded(
        fill,
        {
            "beer": beer.name,
            "batch": fill.batch,
            "volume_hl": volume_hl,
            "filled_at": filled_at,
            "status_then": state.status.code,
            "detail_then": state.status.detail,
            "reason": fill.without_release_reason,
            **_way(through),
        },
        aggregate=turnaround,
    )

"""Actions of a permit to enter a vessel."""

import math
import re

from brewhygiene.ledger.recording import Actor, Recorded, action
from brewhygiene.people.permissions import require
from brewhygiene.people.signatures import sign
from brewhygiene.quantities.parsing import show_number
from brewhygiene.quantities.sources import ValueSource
from brewhygiene.quantities.style import own_words, told
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.cautions import ENTERED_VESSELS
from brewhygiene.turnarounds.actions import lock_open_turnaround, raise_revision
from brewhygiene.turnarounds.entry.gas import unsafe_gas
from brewhygiene.turnarounds.models import Turnaround, VesselOpening
from brewhygiene.turnarounds.models.entries import EntryPermit
from brewhygiene.turnarounds.queries import open_permit
from brewhygiene.turnarounds.residues import agents_inside

MEANING = "Permits entry into {vessel}"


def _named(text: str, *, field: str, message: str) -> str:
    words = " ".join(text.split())
    if not words:
        raise Refusal(message, field=field, code="required")
    return words


def _refuse_unless_enterable(turnaround: Turnaround) -> None:
    vessel = turnaround.vessel
    if vessel.kind not in ENTERED_VESSELS:
        raise Refusal(f"A {vessel.get_kind_display()} is not entered.", code="not_entered")
    if turnaround.cleans.filter(finished_at__isnull=True, stopped_at__isnull=True).exists():
        raise Refusal("A clean is running. Finish or stop it first.", code="clean_running")
    if open_permit(turnaround) is not None:
        raise Refusal(f"An entry permit for {vessel.name} is open already.", code="already_open")
    if inside := agents_inside(turnaround):
        names = " and ".join(agent.name for agent in inside)
        raise Refusal(
            f"{names} may still be in {vessel.name}. Rinse first, until a pH or conductivity "
            "shows that it is gone.",
            code="agents_inside",
        )


def _check_gas(**readings: float) -> None:
    for field, value in readings.items():
        if not math.isfinite(value) or not 0 <= value <= 100:
            raise Refusal("Enter 0 to 100 %, as read.", field=field, code="invalid")
    if (limit := unsafe_gas(readings)) is not None:
        with told():
            raise Refusal(
                f"{limit.name} reads {show_number(readings[limit.field])} %. "
                f"{own_words(limit.why)} Nobody "
                f"enters. Ventilate and test again. Source: {limit.source}.",
                field=limit.field,
                code="unsafe_gas",
            )


@action("permit entry")
def permit_entry(
    *,
    by: Actor,
    turnaround: Turnaround,
    reason: str,
    entrants: str,
    attendant: str,
    isolation: str,
    oxygen_pct: float,
    co2_pct: float,
    explosive_pct: float,
    password: str,
) -> Recorded[EntryPermit]:
    """Permit entry into an emptied vessel, which is locked until the permit is closed out.

    A vessel that was cleaned counts as opened from now on: its release is void.
    """
    require(by, "decide_release")
    turnaround = lock_open_turnaround(turnaround)
    _refuse_unless_enterable(turnaround)
    reason = _named(reason, field="reason", message="Enter the work to be done inside.")
    entrants = _named(entrants, field="entrants", message="Enter who goes in.")
    attendant = _named(attendant, field="attendant", message="Enter who stays outside.")
    # As whole words: an Ann may watch while a Hannah is inside.
    if re.search(rf"\b{re.escape(attendant)}\b", entrants, re.IGNORECASE):
        raise Refusal(
            f"{attendant} goes in. Enter somebody else who stays outside.",
            field="attendant",
            code="attendant_enters",
        )
    isolation = _named(isolation, field="isolation", message="Enter what is shut and locked.")
    _check_gas(oxygen_pct=oxygen_pct, co2_pct=co2_pct, explosive_pct=explosive_pct)
    vessel = turnaround.vessel
    permit = EntryPermit.objects.create(
        turnaround=turnaround,
        reason=reason,
        entrants=entrants,
        attendant=attendant,
        isolation=isolation,
        oxygen_pct=oxygen_pct,
        co2_pct=co2_pct,
        explosive_pct=explosive_pct,
        source=ValueSource.READ,
        opened_at=by.now,
        signature=sign(by=by, password=password, meaning=MEANING.format(vessel=vessel.name)),
    )
    if turnaround.cleans.filter(finished_at__isnull=False).exists():
        VesselOpening.objects.create(
            turnaround=turnaround,
            opened_at=by.now,
            reason=f"Entered: {reason}"[:200],
            recorded_by=by.person,
        )
    raise_revision(turnaround)
    return Recorded(
        permit,
        {
            "reason": reason,
            "entrants": entrants,
            "attendant": attendant,
            "isolation": isolation,
            "oxygen_pct": oxygen_pct,
            "co2_pct": co2_pct,
            "explosive_pct": explosive_pct,
        },
        aggregate=turnaround,
    )


@action("close entry permit")
def close_permit(
    *, by: Actor, permit: EntryPermit, everyone_out: bool, nothing_left: bool, note: str
) -> Recorded[EntryPermit]:
    """Close a permit out: everybody is out, nothing was left inside. The vessel is free again."""
    user = require(by, "work_cellar")
    turnaround = lock_open_turnaround(permit.turnaround)
    permit = EntryPermit.objects.get(pk=permit.pk)
    if permit.closed_at is not None:
        raise Refusal("This permit is closed already.", code="closed")
    if not everyone_out:
        raise Refusal(
            "Tick it once everybody is out, counted by name.", field="everyone_out", code="inside"
        )
    if not nothing_left:
        raise Refusal(
            "Tick it once tools, lamps and parts are out.", field="nothing_left", code="left_inside"
        )
    permit.closed_at, permit.closed_by = by.now, user
    permit.close_note = _named(note, field="note", message="Enter what was done and found.")
    permit.save(update_fields=["closed_at", "closed_by", "close_note"])
    raise_revision(turnaround)
    return Recorded(permit, {"note": permit.close_note}, aggregate=turnaround)

"""A dead meter on brew day: what stands in for the readings, and when nothing may."""

import dataclasses
from collections.abc import Sequence

from brewhygiene.atp.models.meters import Meter
from brewhygiene.quantities.style import digits
from brewhygiene.refusals import Refusal
from brewhygiene.regimes.models import Quantity
from brewhygiene.release.gates import Answer, Gate
from brewhygiene.release.powers.explaining import TOO_LITTLE, says_something
from brewhygiene.release.queries import Dossier
from brewhygiene.release.standing.clocks import actions_since_full_clean
from brewhygiene.science.tank.against_supply import same_ph
from brewhygiene.turnarounds.models import WindowVerdict
from brewhygiene.turnarounds.progress import StepProgress

# The gates that ask about readings. What stands in for the readings passes these and no other.
ABOUT_READINGS = frozenset(
    {
        "sampled",
        "rinse_end",
        "control_check",
        "stick_in_date",
        "limits",
        "nothing_over_action",
        "alerts",
        "recovery",
    }
)
PH_LOW, PH_HIGH = 0.0, 14.0


@dataclasses.dataclass(frozen=True)
class SeenAtVessel:
    """What two people saw and read at the vessel; both pH without a unit."""

    meter_fault: str
    inspection: str
    rinse_ph: float
    supply_ph: float


def other_gates(gates: Sequence[Gate]) -> list[Gate]:
    """The gates that a release without a meter has to pass like any other."""
    return [gate for gate in gates if gate.code not in ABOUT_READINGS]


def _strengths(dossier: Dossier) -> list[tuple[StepProgress, str, str]]:
    """Each step that asks for a strength, with its latest reading as typed and its verdict."""
    found = []
    for progress in dossier.counted_cleans:
        for item in progress.steps:
            if any(w.quantity == Quantity.CONCENTRATION for w in item.step.windows.all()):
                read = [r for r in item.readings if r.quantity == Quantity.CONCENTRATION]
                found.append((item, read[-1].typed, read[-1].verdict) if read else (item, "", ""))
    return found


def strength_words(dossier: Dossier) -> str:
    """The strengths on record of the cleans that count."""
    return (
        ", ".join(f"{item.step} {typed}" for item, typed, _ in _strengths(dossier))
        or "no step asks for one"
    )


def _plates_since(dossier: Dossier) -> list[str]:
    """The plates since the last clean or re-sanitise whose sanitiser is stopped, in words."""
    last = dossier.last_finished
    if last is None or last.clean.finished_at is None:
        return []
    finished = last.clean.finished_at
    return [
        f"{p.point.name}, {p.medium}"
        for p in dossier.plates
        if p.taken_at >= finished and p.neutralised
    ]


def plate_words(dossier: Dossier) -> str:
    """The plates that were taken, whose growth is not known yet."""
    return "; ".join(_plates_since(dossier))


def why_not(dossier: Dossier, gates: Sequence[Gate], working: Sequence[Meter]) -> tuple[str, ...]:
    """Why the vessel cannot be released without a meter, each reason with what to do instead.

    ``working`` are the meters whose latest control check of the day passed. 0 queries.
    """
    found = [
        f"{meter.name} passed its control check today. Sample with it instead." for meter in working
    ]
    about = [gate for gate in gates if gate.code in ABOUT_READINGS]
    if all(gate.answer != Answer.NO for gate in about):
        found.append("The readings can be judged. Decide by them instead.")
    turnaround = dossier.facts.turnaround
    if turnaround is not None and actions_since_full_clean(turnaround):
        found.append("A reading is over the action limit. Re-clean the vessel.")
    found += [
        f"{gate.title}: no. {gate.evidence[0]}." for gate in other_gates(gates) if gate.blocks
    ]
    if any(verdict != WindowVerdict.WITHIN for _, _, verdict in _strengths(dossier)):
        found.append("A strength was not read, or not inside its window. Re-clean the vessel.")
    if not _plates_since(dossier):
        found.append(
            "No plate was taken since the last clean with a neutraliser that fits. Take one and "
            "send it first."
            if any(plate.not_known for plate in dossier.plates)
            else "No plate was taken since the last clean. Take one and send it first."
        )
    return tuple(found)


def checked_at_vessel(seen: SeenAtVessel) -> SeenAtVessel:
    """What was seen, or a :class:`Refusal` beside the field that does not hold."""
    for name in ("meter_fault", "inspection"):
        if not says_something(getattr(seen, name)):
            raise Refusal(TOO_LITTLE, field=name, code="says_nothing")
    for name in ("rinse_ph", "supply_ph"):
        if not PH_LOW <= getattr(seen, name) <= PH_HIGH:
            raise Refusal("Enter a pH from 0 to 14.", field=name, code="no_ph")
    found = same_ph(seen.rinse_ph, supply_ph=seen.supply_ph)
    if found.says != "met":
        raise Refusal(
            f"{found.why[0].upper()}{found.why[1:]}. "
            + (
                "Read the supply again."
                if found.says == "question_supply"
                else "Rinse on and read again."
            ),
            field="supply_ph" if found.says == "question_supply" else "rinse_ph",
            code="ph",
        )
    return seen


def stands_in(dossier: Dossier, seen: SeenAtVessel) -> dict[str, str]:
    """What stood in for the readings, in words by what it is."""
    return {
        "Meter": seen.meter_fault.strip(),
        "Inspection": seen.inspection.strip(),
        "Rinse": (
            f"pH {digits(seen.rinse_ph, 'g')} beside the supply's pH {digits(seen.supply_ph, 'g')}"
        ),
        "Strength": strength_words(dossier),
        "Plate": plate_words(dossier),
    }

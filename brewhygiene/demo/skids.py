"""The invented brewery's skid with its two tanks, its portable set, and what cleans draw."""

from brewhygiene.cellar.materials import Material
from brewhygiene.cellar.models import Vessel, VesselKind
from brewhygiene.ledger.recording import Actor
from brewhygiene.regimes.models import Step
from brewhygiene.skids.gear.actions import SkidValues, TankValues, save_skid, save_tank
from brewhygiene.skids.models import Skid, SkidKind, Solution
from brewhygiene.turnarounds.models import Clean, Outflow, StepRecord
from brewhygiene.turnarounds.steps.drain import drain_words
from brewhygiene.turnarounds.steps.solutions.drawing import NOT_SAID, Draws

SKID, PORTABLE = "Skid 1", "Portable set"
CAUSTIC_TANK, ACID_TANK = "Caustic tank", "Acid tank"
TANK_HL = 6.0
# Piped to the skid; everything else is cleaned by the portable set.
PIPED = (VesselKind.FERMENTER, VesselKind.BRIGHT_TANK)
COMMON = "Common practice, no source."


def set_up_skids(*, by: Actor, password: str) -> dict[str, Skid]:
    """One skid with a caustic and an acid tank, and a portable set without any."""
    skids = {
        name: save_skid(
            by=by,
            values=SkidValues(
                name=name,
                kind=kind,
                material=Material.STAINLESS_304,
                seal_material=Material.EPDM,
                volume_hl=volume_hl,
            ),
            password=password,
        )
        for name, kind, volume_hl in (
            (SKID, SkidKind.SKID, 0.8),
            (PORTABLE, SkidKind.PORTABLE, 0.2),
        )
    }
    for name, carbonate in ((CAUSTIC_TANK, 50.0), (ACID_TANK, None)):
        save_tank(
            by=by,
            skid=skids[SKID],
            values=TankValues(
                name=name,
                material=Material.STAINLESS_304,
                volume_hl=TANK_HL,
                most_uses=40,
                most_days=8,
                most_carbonate_percent=carbonate,
                rule_source=COMMON,
            ),
            password=password,
        )
    return skids


def skid_for(vessel: Vessel) -> Skid:
    """What a vessel is cleaned by."""
    return Skid.objects.get(name=SKID if vessel.kind in PIPED else PORTABLE)


def draws_for(clean: Clean, step: Step) -> Draws:
    """The solution of the skid's tank, where there is one of the step's agent."""
    if clean.skid_id is None or step.agent_id is None:
        return NOT_SAID
    found = Solution.objects.filter(
        tank__skid=clean.skid_id, agent=step.agent_id, dumped_at__isnull=True
    ).first()
    return NOT_SAID if found is None else Draws(solution=found)


def outflow_of(record: StepRecord, step: Step) -> Outflow:
    """Back to its tank, unless it has to go to the drain."""
    if record.solution_id is None or drain_words(step, record.clean):
        return Outflow.DUMPED
    return Outflow.RETURNED

"""What can hurt someone in a step, said before it can be started.

Our own words; each page that shows them defers to the agent's safety data sheet, local codes
and licensed practice.
"""

import dataclasses

from brewhygiene.cellar.models import VesselKind
from brewhygiene.regimes.models import ActiveSubstance, Quantity, Step, StepKind

DEFERENCE = (
    "These reminders do not replace the safety data sheet, local codes or licensed practice. "
    "Where they differ, follow those."
)

CLOSED_VESSELS = frozenset(
    {
        VesselKind.FERMENTER,
        VesselKind.BRIGHT_TANK,
        VesselKind.MIXING_TANK,
        VesselKind.LIQUOR_TANK,
        VesselKind.YEAST_VESSEL,
        VesselKind.SERVING_TANK,
        VesselKind.KEG,
    }
)
HOT_FROM_C = 45.0


@dataclasses.dataclass(frozen=True)
class Caution:
    """One thing to be heeded. A ``check`` is a hard stop: somebody says that it is so.

    What is ``signed`` by somebody once for this regime and vessel is shown, and asks for no tick.
    """

    code: str
    title: str
    text: str
    check: bool = False
    signed: str = ""


VENTED = Caution(
    "vented",
    "Vessel vented",
    "The pressure is off and the gauge reads zero. I looked.",
    check=True,
)
PURGED = Caution(
    "purged",
    "CO2 purged",
    "CO2 was purged with air. Burst rinses do not remove it. Caustic absorbs CO2 and the "
    "vacuum folds the tank.",
    check=True,
)
AIR_PATH = Caution(
    "air_path",
    "Air path open",
    "A vent wide enough is open for the whole step. The vessel can draw air when it cools or "
    "gas is absorbed.",
    check=True,
)
VACUUM_VALVE = Caution(
    "vacuum_valve",
    "Vacuum valve free",
    "The vacuum valve was lifted by hand today and moves freely.",
    check=True,
)
CAUSTIC = Caution(
    "caustic",
    "Caustic burns",
    "Goggles, face shield, gloves, apron and boots as the safety data sheet says. Eyewash and "
    "shower within reach. Always concentrate into water, never water into concentrate.",
)
ACID = Caution(
    "acid",
    "Acid burns",
    "Goggles, face shield, gloves, apron and boots as the safety data sheet says. Always acid "
    "into water, never water into acid.",
)
NO_CHLORINE = Caution(
    "no_chlorine",
    "No chlorine near acid",
    "Nothing with chlorine is in this vessel, its hoses or its drain. Acid releases a gas that "
    "kills from it.",
    check=True,
)
CHLORINE = Caution(
    "chlorine",
    "No acid near chlorine",
    "No acid is left in this vessel, its hoses or its drain. Never hot, never on bare steel for "
    "longer than the label says.",
    check=True,
)
PERACETIC = Caution(
    "peracetic",
    "Peracetic acid stings eyes and lungs",
    "Ventilate, keep the lid down, wear what the safety data sheet asks for. Do not heat it. "
    "Never mix it with caustic concentrate.",
)
HOT = Caution(
    "hot",
    "Hot liquid under pump pressure",
    "Valves set and tagged, couplings tight, hose clips checked, nobody in line with a "
    "coupling. Agitators and pumps that are not in use are locked out.",
)
HOT_COLD = Caution(
    "hot_cold",
    "Never cold into hot and closed",
    "Cold water in a hot, closed vessel draws a vacuum at once. Let it cool with the vent open.",
)
COLD_AFTER_HOT = Caution(
    "cold_after_hot",
    "Vent open before cold water",
    "The vessel is still hot from the step before. A vent wide enough is open and stays open. "
    "Cold water in a hot, closed vessel draws a vacuum at once and folds it.",
    check=True,
)
CO2_ROOM = Caution(
    "co2_room",
    "CO2 in the room",
    "Vented gas sinks and fills cellars. The CO2 monitor is on and the room is ventilated.",
)
CONFINED_SPACE = Caution(
    "confined_space",
    "Nobody enters",
    "No head and no body goes into the vessel without a confined-space permit and a trained team.",
)
PRESSURE = Caution(
    "pressure",
    "Lines under pressure",
    "Pressure is off before a coupling is opened. Hoses are sound and rated for this step.",
)
UNDER_CO2 = Caution(
    "no_caustic_here",
    "No caustic in this clean",
    "CO2 stays in the vessel. Caustic hoses and tank are shut off from it.",
    check=True,
)


def runs_hot(
    kind: str, temperatures_c: tuple[float | None, float | None, float | None] | None
) -> bool:
    """Whether a step usually runs hot: hot water, or 45 °C and more by its temperature window.

    ``temperatures_c`` are the window's minimum, target and maximum; the target counts first,
    then the minimum, and the maximum where nothing else is given.
    """
    if kind == StepKind.HOT_WATER:
        return True
    if temperatures_c is None:
        return False
    minimum, target, maximum = temperatures_c
    usual = next((t for t in (target, minimum, maximum) if t is not None), None)
    return usual is not None and usual >= HOT_FROM_C


def is_hot(step: Step) -> bool:
    """Whether a step runs hot by its window; reads prefetched windows."""
    window = step.window(Quantity.TEMPERATURE_C)
    return runs_hot(step.kind, (window.minimum, window.target, window.maximum) if window else None)


def _cautions_of_agent(step: Step, *, under_co2: bool) -> list[Caution]:
    """What the chemical of a step calls for, whatever the vessel."""
    if step.kind == StepKind.CAUSTIC:
        return [CAUSTIC]
    if step.kind == StepKind.ACID:
        return [NO_CHLORINE, ACID, *([UNDER_CO2] if under_co2 else [])]
    if step.kind == StepKind.SANITISER and step.agent is not None:
        substance = step.agent.active_substance
        if substance in (ActiveSubstance.PAA, ActiveSubstance.H2O2):
            return [PERACETIC]
        if substance == ActiveSubstance.CHLORINE:
            return [CHLORINE]
    return []


def cautions_for_kind(
    step: Step, vessel_kind: str, *, under_co2: bool, previous: Step | None = None
) -> list[Caution]:
    """The cautions of one step on any vessel of a kind, hard stops first.

    ``step``, and ``previous`` before it, with agent and windows loaded; ``under_co2`` when the
    regime keeps the gas in.
    """
    closed = vessel_kind in CLOSED_VESSELS
    hot = is_hot(step)
    found: list[Caution] = []
    if closed and (step.kind == StepKind.CAUSTIC or hot):
        found += [VENTED, PURGED, AIR_PATH, VACUUM_VALVE]
    if closed and not hot and previous is not None and is_hot(previous):
        found.append(COLD_AFTER_HOT)
    if step.kind == StepKind.VENT:
        found += [CO2_ROOM, CONFINED_SPACE] if closed else [PRESSURE]
    found += _cautions_of_agent(step, under_co2=under_co2)
    if step.kind == StepKind.HAND_CLEAN:
        found += [PRESSURE, CONFINED_SPACE]
    if hot:
        found.append(HOT)
        if closed:
            found.append(HOT_COLD)
    return sorted(found, key=lambda caution: not caution.check)

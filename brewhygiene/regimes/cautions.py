"""What can hurt someone in a step, said before it can be started.

Our own words; each page that shows them defers to the agent's safety data sheet, local codes
and licensed practice.
"""

import dataclasses
from collections.abc import Iterable, Mapping

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
        VesselKind.DRY_HOP_GEAR,
    }
)
FLOWED_THROUGH = frozenset(
    {VesselKind.HEAT_EXCHANGER, VesselKind.HOSE_SET, VesselKind.FILLER, VesselKind.KEG_LINE}
)
# A person fits in, and has died in.
ENTERED_VESSELS = CLOSED_VESSELS - {VesselKind.KEG, VesselKind.DRY_HOP_GEAR}
AGENT_STEPS = frozenset({StepKind.CAUSTIC, StepKind.ACID, StepKind.SANITISER})
# Liquid that is not hot takes a vessel's heat with it. Draining and venting do not.
COOLING = AGENT_STEPS | {StepKind.PRE_RINSE, StepKind.RINSE}
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
KEG_VENTED = Caution(
    "vented",
    "Keg without pressure",
    "The valve was pressed open and nothing came out any more.",
    check=True,
)
KEG_PURGED = Caution(
    "purged",
    "CO2 blown out",
    "CO2 was blown out of the keg with air. Caustic absorbs what is left, and the vacuum breaks "
    "the seal.",
    check=True,
)
KEG_AIR_PATH = Caution(
    "air_path",
    "Keg valve kept open",
    "The cleaning head keeps the valve open for the whole step. The keg can draw air when it "
    "cools.",
    check=True,
)
LID = Caution(
    "lid",
    "Lid without pressure",
    "The gas and the tank's valve are shut. The gauge reads zero and the lid's own vent is open. "
    "Only then are its clamps loosened: a lid under pressure flies off, and hops come after it.",
    check=True,
)
CO2_KEPT = Caution(
    "co2_kept",
    "Overpressure kept",
    "The gauge shows a slight overpressure. The relief valve moves freely. The CO2 supply is open "
    "and lasts for the whole step. Rinsing and draining must not draw a vacuum.",
    check=True,
)
OTHER_SIDE = Caution(
    "other_side",
    "Other side free",
    "The coolant is shut off, and its side can expand: drained or vented. Nothing is shut in "
    "while it heats.",
    check=True,
)
COUPLINGS = Caution(
    "couplings",
    "Couplings under flow",
    "No coupling is opened while the pump runs. The pump is off before a valve is shut. Clamps "
    "and hose clips are tight, and both ends of each hose are connected.",
)
KEGS_OFF = Caution(
    "kegs_off",
    "Kegs and gas off",
    "Kegs are off and the gas is shut. Couplers were cleaned and are on cleaning sockets.",
    check=True,
)
TAPS_TAGGED = Caution(
    "taps_tagged",
    "Bar told, taps tagged",
    "The bar knows. Each tap is tagged, and stays so until the rinse is proved. The line is never "
    "left alone with solution in it.",
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
    "Cold water in a hot, closed vessel draws a vacuum at once. An open vent alone is not enough: "
    "temper the water, or wait until the vessel is below 45 °C.",
)
COLD_AFTER_HOT = Caution(
    "cold_after_hot",
    "Not cold into hot",
    "The vessel is still hot. The water is tempered, or the vessel has cooled below 45 °C. A vent "
    "wide enough is open and stays open. Cold water in a hot, closed vessel draws a vacuum at "
    "once and folds it.",
    check=True,
)
SAMPLE = Caution(
    "sample",
    "No pressure on the sampling point",
    "Let the pressure off before a valve or a manway is opened. Wear goggles and gloves: the rinse "
    "may still have agent in it.",
)
CO2_ROOM = Caution(
    "co2_room",
    "CO2 monitor read",
    "I read the CO2 monitor before venting: it shows less than its first alarm. The room is "
    "ventilated. Vented gas sinks and fills cellars.",
    check=True,
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
NEVER_MIX = Caution(
    "never_mix",
    "Never mix agents",
    "One agent in a tank, and its own pump and hose. Nothing with chlorine near acid or peracetic "
    "acid: a gas that kills is released. Rinse the tank before another agent.",
)
HANDLING = Caution(
    "handling",
    "Agent into water",
    "Fill in the water first, then the agent, slowly, never the other way round. Goggles, gloves "
    "and apron as the safety data sheet says. Eyewash within reach.",
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
    """Whether a step may run hot: hot water, or 45 °C and more anywhere in its window.

    ``temperatures_c`` are the window's minimum, target and maximum.
    """
    if kind == StepKind.HOT_WATER:
        return True
    return any(t is not None and t >= HOT_FROM_C for t in temperatures_c or ())


def is_hot(step: Step) -> bool:
    """Whether a step may run hot by its window; reads prefetched windows."""
    window = step.window(Quantity.TEMPERATURE_C)
    return runs_hot(step.kind, (window.minimum, window.target, window.maximum) if window else None)


def heat_left(steps: Iterable[Step], *, read_c: Mapping[int, float] | None = None) -> bool:
    """Whether steps in their order leave a vessel hot; reads prefetched windows.

    ``read_c`` has the highest temperature that was read in a step, °C, by the step's id. A step
    that was read hot leaves heat, whatever its window says.
    """
    hot = False
    for step in steps:
        if is_hot(step) or (read_c or {}).get(step.pk, 0) >= HOT_FROM_C:
            hot = True
        elif step.kind in COOLING:
            hot = False
    return hot


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


def _cautions_of_closed(
    step: Step, vessel_kind: str, *, hot: bool, heat_before: bool, vacuum_valve: bool
) -> list[Caution]:
    """What a closed vessel calls for that is neither kept under CO2 nor flowed through."""
    found: list[Caution] = []
    if step.kind == StepKind.CAUSTIC or hot:
        if vessel_kind == VesselKind.KEG:
            found += [KEG_VENTED, KEG_PURGED, KEG_AIR_PATH]
        else:
            found += [VENTED, PURGED, AIR_PATH, *([VACUUM_VALVE] if vacuum_valve else [])]
    if not hot and heat_before and step.kind in COOLING:
        found.append(COLD_AFTER_HOT)
    return found


def _cautions_of_circuit(step: Step, vessel_kind: str, *, hot: bool) -> list[Caution]:
    """What a line, a hose, a heat exchanger or a filler calls for: nothing of tanks."""
    wet = hot or step.kind in AGENT_STEPS
    found: list[Caution] = []
    if vessel_kind == VesselKind.HEAT_EXCHANGER and hot:
        found.append(OTHER_SIDE)
    if vessel_kind in FLOWED_THROUGH and wet:
        found.append(COUPLINGS)
    if vessel_kind == VesselKind.DRAUGHT_LINE and step.kind in AGENT_STEPS:
        found += [KEGS_OFF, TAPS_TAGGED]
    return found


def cautions_for_kind(
    step: Step,
    vessel_kind: str,
    *,
    under_co2: bool,
    heat_before: bool = False,
    vacuum_valve: bool = True,
) -> list[Caution]:
    """The cautions of one step on any vessel of a kind, hard stops first.

    ``step`` with agent and windows loaded; ``under_co2`` when the regime keeps the gas in;
    ``heat_before`` when what ran before left the vessel hot; ``vacuum_valve`` unless the vessel
    has none.
    """
    closed = vessel_kind in CLOSED_VESSELS
    hot = is_hot(step)
    found: list[Caution] = []
    if closed:
        if under_co2:
            found.append(CO2_KEPT)
        found += _cautions_of_closed(
            step, vessel_kind, hot=hot, heat_before=heat_before, vacuum_valve=vacuum_valve
        )
    found += _cautions_of_circuit(step, vessel_kind, hot=hot)
    nobody_enters = [CONFINED_SPACE] if vessel_kind in ENTERED_VESSELS else []
    if step.kind == StepKind.VENT:
        found += [CO2_ROOM, *nobody_enters] if closed else [PRESSURE]
    if vessel_kind == VesselKind.DRY_HOP_GEAR and step.kind in (StepKind.VENT, StepKind.HAND_CLEAN):
        found.append(LID)
    found += _cautions_of_agent(step, under_co2=under_co2)
    if step.kind == StepKind.SAMPLE:
        found.append(SAMPLE)
        if closed:
            found.append(CONFINED_SPACE)
    if step.kind == StepKind.HAND_CLEAN:
        found += [PRESSURE, *nobody_enters]
    if hot:
        found.append(HOT)
        if closed:
            found.append(HOT_COLD)
    return sorted(found, key=lambda caution: not caution.check)


def cautions_of_handling(substance: str = "") -> list[Caution]:
    """What handling a solution calls for, of any agent where none is named.

    >>> [caution.code for caution in cautions_of_handling("NaOH")]
    ['never_mix', 'handling', 'caustic']
    """
    own = {
        ActiveSubstance.NAOH: CAUSTIC,
        ActiveSubstance.KOH: CAUSTIC,
        ActiveSubstance.HNO3: ACID,
        ActiveSubstance.H3PO4: ACID,
        ActiveSubstance.HNO3_H3PO4: ACID,
        ActiveSubstance.PAA: PERACETIC,
        ActiveSubstance.H2O2: PERACETIC,
    }
    if not substance:
        return [NEVER_MIX, HANDLING, CAUSTIC, ACID, PERACETIC]
    found = own.get(ActiveSubstance(substance))
    return [NEVER_MIX, HANDLING, *([found] if found is not None else [])]

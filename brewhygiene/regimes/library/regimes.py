"""The starting regimes that come with the product.

They are starting points: a site confirms them against its own agents' labels, safety data
sheets and results.
"""

import dataclasses
from collections.abc import Callable, Mapping

from brewhygiene.cellar.models import CleanLevel, VesselKind
from brewhygiene.regimes.about import About
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft
from brewhygiene.regimes.library.agents import ACID_BLEND, CAUSTIC, PERACETIC
from brewhygiene.regimes.library.steps import (
    DRAUGHT_MANUAL,
    HOT_WATER_LEAST,
    LINE_VELOCITY,
    LUKEWARM,
    PRE_RINSE_TANK,
    RINSE_HOT_TANK,
    SAMPLE_LINE,
    SAMPLE_PROVED,
    SAMPLE_TANK,
    VENT_TANK,
    cold_caustic,
    drain,
    hot_caustic,
    pre_rinse,
    rinse,
    sample,
    strength_mg_l,
    strength_ww,
    tank_acid,
    tank_sanitiser,
    temperature_c,
    time_min,
    vent,
    window,
)
from brewhygiene.regimes.models import Agent, EndCriterion, Quantity, StepKind


@dataclasses.dataclass(frozen=True)
class StartingRegime:
    """A regime of the library; ``steps`` builds it from the agents by name."""

    about: About
    provenance: str
    steps: Callable[[Mapping[str, Agent]], list[StepDraft]]


# 2 US gal/min, as the manual gives it.
MAX_DRAUGHT_FLOW_L_MIN = 2 * 3.785411784

TANKS = (
    VesselKind.FERMENTER,
    VesselKind.YEAST_VESSEL,
    VesselKind.MIXING_TANK,
    VesselKind.SERVING_TANK,
    VesselKind.LIQUOR_TANK,
)
BRIGHT_TANKS = (VesselKind.BRIGHT_TANK, VesselKind.SERVING_TANK)
LINES = (VesselKind.HEAT_EXCHANGER, VesselKind.KEG_LINE, VesselKind.FILLER)
DRAUGHT_FLOW = window(Quantity.FLOW_L_MIN, maximum=MAX_DRAUGHT_FLOW_L_MIN, source=DRAUGHT_MANUAL)
PUSH_LINE = pre_rinse("Push the beer out with cold water.")
RINSE_LINE = rinse("Cold water.", end=EndCriterion.TAP_PH, source=DRAUGHT_MANUAL)
DRAIN_TANK = drain("Drain to the last drop, then close under sterile air or CO2.")
CONFIRM = "A starting point: confirm it against your labels, safety data sheets and results."
PRACTICE = f"Common practice, no source. {CONFIRM}"


def _tank(
    caustic: Callable[[Mapping[str, Agent]], StepDraft], rinsed: StepDraft
) -> Callable[[Mapping[str, Agent]], list[StepDraft]]:
    def steps(agents: Mapping[str, Agent]) -> list[StepDraft]:
        return [
            VENT_TANK,
            PRE_RINSE_TANK,
            caustic(agents),
            rinsed,
            tank_acid(agents),
            rinse(),
            SAMPLE_TANK,
            tank_sanitiser(agents),
            DRAIN_TANK,
        ]

    return steps


def _strong(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        VENT_TANK,
        PRE_RINSE_TANK,
        StepDraft(
            StepKind.HAND_CLEAN,
            instruction="Take off every gasket, valve and racking arm and clean each by hand. Look "
            "at the spray device. Renew seals that are worn. Keep a list of what was opened.",
            end_criterion=EndCriterion.INSPECTED,
            end_criterion_source=COMMON_PRACTICE,
        ),
        hot_caustic(agents),
        RINSE_HOT_TANK,
        tank_acid(agents),
        rinse(),
        sample("ATP of the last rinse and of the surface at each point that was opened."),
        tank_sanitiser(agents, minutes=(10, 20, 60), instruction="Twice the usual contact time."),
        drain(
            "Drain to the last drop. Send a plate as well as reading ATP, with the sanitiser's "
            "neutraliser."
        ),
    ]


def _under_co2(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        pre_rinse(
            "Let the tank down to a slight overpressure first and keep it there. In bursts, "
            "draining between them.",
            windows=(LUKEWARM,),
        ),
        StepDraft(
            StepKind.ACID,
            agents[ACID_BLEND],
            windows=(
                strength_ww(1, 1.5, 2.5),
                temperature_c(maximum=30),
                time_min(20, 30, 45),
            ),
        ),
        rinse(),
        SAMPLE_TANK,
        StepDraft(
            StepKind.SANITISER,
            agents[PERACETIC],
            windows=(strength_mg_l(100, 150, 200), time_min(10, 15, 30)),
        ),
        drain("Drain under CO2, keeping the slight overpressure."),
    ]


def _circuit(agents: Mapping[str, Agent], *, acid: bool) -> list[StepDraft]:
    steps = [
        StepDraft(
            StepKind.HOT_WATER,
            instruction="Backflush with hot water until no trub or hop comes.",
            end_criterion=EndCriterion.RUNS_CLEAR,
            end_criterion_source=COMMON_PRACTICE,
        ),
        StepDraft(
            StepKind.CAUSTIC,
            agents[CAUSTIC],
            instruction="Circulate forward, then back. The velocity counts in the widest bore.",
            windows=(
                strength_ww(2, 2.5, 4),
                temperature_c(75, 80, 85),
                time_min(30),
                window(Quantity.VELOCITY_M_S, 1.5, source=LINE_VELOCITY),
            ),
        ),
        rinse(),
    ]
    if acid:
        steps += [tank_acid(agents), rinse()]
    return [
        *steps,
        SAMPLE_LINE,
        StepDraft(
            StepKind.HOT_WATER,
            instruction="Just before use. The temperature counts at the return.",
            windows=(temperature_c(80), time_min(20, 30)),
        ),
    ]


def _draught_caustic(agents: Mapping[str, Agent], *, standing: bool) -> StepDraft:
    return StepDraft(
        StepKind.CAUSTIC,
        agents[CAUSTIC],
        instruction="2 %, or 3 % for old or problem lines."
        + (" Fill the line and let it stand." if standing else " Circulate."),
        windows=(
            strength_ww(2, 2, 3, source=DRAUGHT_MANUAL),
            temperature_c(27, None, 52, source=DRAUGHT_MANUAL),
            time_min(20 if standing else 15, source=DRAUGHT_MANUAL),
            *(() if standing else (DRAUGHT_FLOW,)),
        ),
    )


def _draught_to_rinse(agents: Mapping[str, Agent], *, standing: bool = False) -> list[StepDraft]:
    return [PUSH_LINE, _draught_caustic(agents, standing=standing), RINSE_LINE]


def _draught(agents: Mapping[str, Agent], *, standing: bool = False) -> list[StepDraft]:
    return [*_draught_to_rinse(agents, standing=standing), SAMPLE_PROVED]


def _draught_with_acid(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        *_draught_to_rinse(agents),
        StepDraft(
            StepKind.ACID,
            agents[ACID_BLEND],
            instruction="Strength as the label says for draught lines. Circulate, or 20 min where "
            "it can only stand.",
            windows=(time_min(15, source=DRAUGHT_MANUAL), DRAUGHT_FLOW),
        ),
        RINSE_LINE,
        SAMPLE_PROVED,
    ]


def _hoses(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        pre_rinse("Flush both ways.", windows=(LUKEWARM,)),
        StepDraft(
            StepKind.CAUSTIC,
            agents[CAUSTIC],
            instruction="Circulate.",
            windows=(strength_ww(2), temperature_c(60), time_min(20)),
        ),
        rinse(),
        SAMPLE_TANK,
        StepDraft(
            StepKind.SANITISER,
            agents[PERACETIC],
            instruction="Soak, ends and couplings under.",
            windows=(strength_mg_l(80, 150, 200), time_min(10)),
        ),
        drain("Hang to drain, then cap both ends."),
    ]


def _kegs(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        vent("Let the pressure off and blow the keg out with air."),
        pre_rinse("Until it runs clear."),
        StepDraft(
            StepKind.CAUSTIC,
            agents[CAUSTIC],
            windows=(strength_ww(2), temperature_c(70, None, 80)),
        ),
        rinse("Vent open before cold water meets the hot keg."),
        StepDraft(
            StepKind.ACID,
            agents[ACID_BLEND],
            windows=(strength_ww(1), temperature_c(60)),
        ),
        rinse("Vent open before cold water meets the hot keg."),
        sample("ATP of the cooled rinse of one keg in the run, before the steam."),
        StepDraft(
            StepKind.HOT_WATER,
            instruction="Steam. The temperature counts in the keg. Where there is no steam, copy "
            "this regime and sanitise with peracetic acid.",
            windows=(temperature_c(105), time_min(1)),
        ),
    ]


def _hot_water(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        VENT_TANK,
        rinse(end=EndCriterion.RUNS_CLEAR, source=COMMON_PRACTICE),
        SAMPLE_LINE,
        StepDraft(
            StepKind.HOT_WATER,
            instruction="The temperature counts at the return or outlet. Breweries use 80 to 85 °C "
            "for 20 to 30 min.",
            windows=(
                temperature_c(76.7, 80, source=HOT_WATER_LEAST),
                time_min(5, 20, source=HOT_WATER_LEAST),
            ),
        ),
        drain("Drain and cool with the vent open, then close under sterile air or CO2."),
    ]


def _resanitise(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        rinse(end=EndCriterion.RUNS_CLEAR, source=COMMON_PRACTICE),
        SAMPLE_TANK,
        tank_sanitiser(agents),
        drain("Drain to the last drop."),
    ]


def _before_filling(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [tank_sanitiser(agents), drain("Drain to the last drop, then fill.")]


REGIMES: tuple[StartingRegime, ...] = (
    StartingRegime(
        About("Fermenter, hot caustic", TANKS), PRACTICE, _tank(hot_caustic, RINSE_HOT_TANK)
    ),
    StartingRegime(About("Fermenter, cold caustic", TANKS), PRACTICE, _tank(cold_caustic, rinse())),
    StartingRegime(
        About(
            "Bright tank, acid only under CO2",
            BRIGHT_TANKS,
            level=CleanLevel.LIGHT,
            under_co2=True,
        ),
        PRACTICE,
        _under_co2,
    ),
    StartingRegime(
        About("Bright tank, caustic with the CO2 purged", BRIGHT_TANKS),
        f"After every n-th use, 10 to start with. Windows as for a cold fermenter. {PRACTICE}",
        _tank(cold_caustic, rinse()),
    ),
    StartingRegime(
        About("Heat exchanger and wort line", LINES),
        f"Velocity: {LINE_VELOCITY}. Otherwise common practice, no source. {CONFIRM}",
        lambda agents: _circuit(agents, acid=False),
    ),
    StartingRegime(
        About("Heat exchanger and wort line, with the weekly acid", LINES),
        f"Velocity: {LINE_VELOCITY}. Otherwise common practice, no source. Acid as for a "
        f"fermenter. {CONFIRM}",
        lambda agents: _circuit(agents, acid=True),
    ),
    StartingRegime(
        About("Draught line, circulating, every 14 days", (VesselKind.DRAUGHT_LINE,)),
        f"{DRAUGHT_MANUAL}. {CONFIRM}",
        _draught,
    ),
    StartingRegime(
        About("Draught line, standing, every 14 days", (VesselKind.DRAUGHT_LINE,)),
        f"{DRAUGHT_MANUAL}. {CONFIRM}",
        lambda agents: _draught(agents, standing=True),
    ),
    StartingRegime(
        About("Draught line, with acid, every 3 months", (VesselKind.DRAUGHT_LINE,)),
        f"{DRAUGHT_MANUAL}. It gives the acid the same times and no strength. {CONFIRM}",
        _draught_with_acid,
    ),
    StartingRegime(About("Hoses", (VesselKind.HOSE_SET,)), PRACTICE, _hoses),
    StartingRegime(About("Kegs", (VesselKind.KEG,)), PRACTICE, _kegs),
    StartingRegime(
        About(
            "After sour, mixed-culture or diastatic beer",
            (*TANKS, VesselKind.BRIGHT_TANK),
            level=CleanLevel.STRONG,
        ),
        PRACTICE,
        _strong,
    ),
    StartingRegime(
        About(
            "Hot water sanitising",
            (*TANKS, VesselKind.BRIGHT_TANK, *LINES),
            level=CleanLevel.LIGHT,
            resanitises_only=True,
        ),
        f"{HOT_WATER_LEAST}. {CONFIRM}",
        _hot_water,
    ),
    StartingRegime(
        About(
            "Re-sanitise only",
            (*TANKS, VesselKind.BRIGHT_TANK),
            level=CleanLevel.LIGHT,
            resanitises_only=True,
        ),
        PRACTICE,
        _resanitise,
    ),
    StartingRegime(
        About(
            "Sanitise before filling",
            (*TANKS, VesselKind.BRIGHT_TANK, VesselKind.HOSE_SET),
            level=CleanLevel.LIGHT,
            resanitises_only=True,
        ),
        PRACTICE,
        _before_filling,
    ),
)

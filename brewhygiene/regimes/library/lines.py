"""Starting regimes of what is flowed through or soaked: lines, heat exchangers, hoses, kegs."""

from collections.abc import Mapping

from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft
from brewhygiene.regimes.library.agents import ACID_BLEND, CAUSTIC, PERACETIC
from brewhygiene.regimes.library.steps import (
    DRAUGHT_MANUAL,
    LINE_VELOCITY,
    LUKEWARM,
    SAMPLE_LINE,
    SAMPLE_PROVED,
    SAMPLE_TANK,
    drain,
    pre_rinse,
    rinse,
    sample,
    strength_mg_l,
    strength_ww,
    tank_acid,
    temperature_c,
    time_min,
    vent,
    window,
)
from brewhygiene.regimes.models import Agent, EndCriterion, Quantity, StepKind

# 2 US gal/min, as the manual gives it.
MAX_DRAUGHT_FLOW_L_MIN = 2 * 3.785411784
DRAUGHT_FLOW = window(Quantity.FLOW_L_MIN, maximum=MAX_DRAUGHT_FLOW_L_MIN, source=DRAUGHT_MANUAL)
STRIP_LINE = StepDraft(
    StepKind.HAND_CLEAN,
    instruction="Tell the bar, tag the taps, shut the gas, take the kegs off. Take taps and "
    "couplers apart and clean them by hand, then put the couplers on cleaning sockets. Look at "
    "foam detectors and pumps.",
    end_criterion=EndCriterion.INSPECTED,
    end_criterion_source=DRAUGHT_MANUAL,
)
PUSH_LINE = pre_rinse("Push the beer out with cold water.")
RINSE_LINE = rinse(
    "Cold water. Tags come off only once its pH is the tap's.",
    end=EndCriterion.TAP_PH,
    source=DRAUGHT_MANUAL,
)


BACKFLUSH = StepDraft(
    StepKind.HOT_WATER,
    instruction="Backflush with hot water until no trub or hop comes.",
    end_criterion=EndCriterion.RUNS_CLEAR,
    end_criterion_source=COMMON_PRACTICE,
)
PUSH_FILLER = pre_rinse(
    "Cold water, through every head: warm water sets what beer leaves.", windows=(LUKEWARM,)
)


def circuit(agents: Mapping[str, Agent], *, first: StepDraft, acid: bool) -> list[StepDraft]:
    steps = [
        first,
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
        steps += [tank_acid(agents, warmest_c=60), rinse()]
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
    return [STRIP_LINE, PUSH_LINE, _draught_caustic(agents, standing=standing), RINSE_LINE]


def draught_line(agents: Mapping[str, Agent], *, standing: bool = False) -> list[StepDraft]:
    return [*_draught_to_rinse(agents, standing=standing), SAMPLE_PROVED]


def draught_line_with_acid(agents: Mapping[str, Agent]) -> list[StepDraft]:
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


def hoses(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        pre_rinse("Flush both ways.", windows=(LUKEWARM,)),
        StepDraft(
            StepKind.CAUSTIC,
            agents[CAUSTIC],
            instruction="Circulate.",
            windows=(strength_ww(2, maximum=3), temperature_c(60), time_min(20)),
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


RINSE_KEG = rinse(
    "Valve kept open. Temper the water, or let the keg cool below 45 °C, before cold meets hot."
)


def kegs(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        vent("Let the pressure off and blow the keg out with air."),
        pre_rinse("Until it runs clear."),
        StepDraft(
            StepKind.CAUSTIC,
            agents[CAUSTIC],
            windows=(strength_ww(2, maximum=3), temperature_c(70, None, 80)),
        ),
        RINSE_KEG,
        StepDraft(
            StepKind.ACID,
            agents[ACID_BLEND],
            windows=(strength_ww(1, maximum=2), temperature_c(60)),
        ),
        RINSE_KEG,
        sample("ATP of the cooled rinse of one keg in the run, before the steam."),
        StepDraft(
            StepKind.HOT_WATER,
            instruction="Steam, then purge and leave under CO2: cooling steam draws a vacuum. The "
            "temperature counts in the keg. Without steam, copy this regime and sanitise with "
            "peracetic acid.",
            windows=(temperature_c(105), time_min(1)),
        ),
    ]

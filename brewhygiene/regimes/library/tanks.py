"""Starting regimes of tanks: closed, emptied, cleaned by a spray device."""

from collections.abc import Callable, Mapping

from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft
from brewhygiene.regimes.library.agents import ACID_BLEND, PERACETIC
from brewhygiene.regimes.library.steps import (
    HOT_WATER_LEAST,
    LUKEWARM,
    PRE_RINSE_TANK,
    RINSE_HOT_TANK,
    SAMPLE_LINE,
    SAMPLE_TANK,
    VENT_TANK,
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
)
from brewhygiene.regimes.models import Agent, EndCriterion, StepKind

DRAIN_TANK = drain("Drain to the last drop, then close under sterile air or CO2.")


def tank_clean(
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


def strong_clean(agents: Mapping[str, Agent]) -> list[StepDraft]:
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
        tank_sanitiser(
            agents,
            minutes=(10, 20, 30),
            instruction="Twice the usual contact time, not longer: seals stand 30 min.",
        ),
        drain(
            "Drain to the last drop. Send a plate as well as reading ATP, with the sanitiser's "
            "neutraliser."
        ),
    ]


def yeast_vessel(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        VENT_TANK,
        pre_rinse(
            "Cold, in bursts, as soon as it is empty: yeast that dries on stays on.",
            windows=(LUKEWARM,),
        ),
        hot_caustic(agents),
        RINSE_HOT_TANK,
        tank_acid(agents),
        rinse(),
        SAMPLE_TANK,
        tank_sanitiser(agents),
        DRAIN_TANK,
    ]


def dry_hop_gear(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        vent(
            "Shut the gas and the tank's valve, let the pressure off, then drive the CO2 out with "
            "air. Open a vent wide enough for the whole clean."
        ),
        pre_rinse(
            "From the top, in bursts, until no hop comes. Hops go to the bin, not down the drain.",
            windows=(LUKEWARM,),
        ),
        StepDraft(
            StepKind.HAND_CLEAN,
            instruction="Lid, screen, sight glass and outlet valve off. Brush hop and resin out "
            "of them, and look into every dead leg.",
            end_criterion=EndCriterion.INSPECTED,
            end_criterion_source=COMMON_PRACTICE,
        ),
        hot_caustic(agents),
        RINSE_HOT_TANK,
        tank_acid(agents),
        rinse(),
        SAMPLE_TANK,
        tank_sanitiser(agents),
        drain("Drain to the last drop, then close under sterile air or CO2. Hops go in dry."),
    ]


def liquor_tank(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        vent("Heating off and locked out. Open a vent and let the tank cool below 45 °C."),
        pre_rinse("Flush loose scale out of the bottom outlet."),
        StepDraft(
            StepKind.ACID,
            agents[ACID_BLEND],
            instruction="Against scale. Heating elements are covered or off.",
            windows=(strength_ww(1, 1.5, 2), temperature_c(15, 25, 40), time_min(20, 30, 45)),
        ),
        rinse("What comes next is brewing water.", end=EndCriterion.TAP_PH, source=COMMON_PRACTICE),
        SAMPLE_TANK,
        StepDraft(
            StepKind.HOT_WATER,
            instruction="Heat the first fill through, then throw it away.",
            windows=(temperature_c(80), time_min(20, 30)),
        ),
        drain("Drain with the vent open."),
    ]


def acid_under_co2(agents: Mapping[str, Agent]) -> list[StepDraft]:
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


def hot_water_sanitising(
    agents: Mapping[str, Agent], *, minutes: float = 20, source: str = HOT_WATER_LEAST
) -> list[StepDraft]:
    return [
        VENT_TANK,
        rinse(end=EndCriterion.RUNS_CLEAR, source=COMMON_PRACTICE),
        SAMPLE_LINE,
        StepDraft(
            StepKind.HOT_WATER,
            instruction="The temperature counts at the return or outlet, and so do the minutes.",
            windows=(temperature_c(80, source=source), time_min(minutes, source=source)),
        ),
        drain(
            "Drain and cool with the vent open. Close under sterile air or CO2 once below 45 °C."
        ),
    ]


def resanitising(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [
        rinse(end=EndCriterion.RUNS_CLEAR, source=COMMON_PRACTICE),
        SAMPLE_TANK,
        tank_sanitiser(agents),
        drain("Drain to the last drop."),
    ]


def sanitising_before_filling(agents: Mapping[str, Agent]) -> list[StepDraft]:
    return [tank_sanitiser(agents), drain("Drain to the last drop, then fill.")]

"""Steps of the starting regimes, each window with its source.

A source says what was read, what is from memory, and where there is none.
"""

from collections.abc import Mapping

from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.library.agents import ACID_BLEND, CAUSTIC, PERACETIC
from brewhygiene.regimes.models import Agent, Basis, EndCriterion, Quantity, StepKind

DRAUGHT_MANUAL = (
    "Brewers Association, Draught Beer Quality Manual, as summarised by secondary pages (read)"
)
BEST_PRACTICES = (
    "Craft Brewer's Guide to Best Practices vol. 2 (Master Brewers / ASBC), excerpt read"
)
NOT_ABOVE_40_C = (
    "Handbook of Hygiene Control in the Food Industry (Woodhead 2005), excerpt read: "
    "heat sets protein"
)
LINE_VELOCITY = "3-A accepted practice for cleaned-in-place lines, from memory"
HOT_WATER_LEAST = (
    "Common practice, no source. A dairy code asks for less: California Food and Agricultural "
    "Code 33519 (read), 170 °F for 5 min at the outlet"
)
MIXED_CULTURE = (
    "80 °C: common practice, no source. 60 min where mixed cultures are brewed: a "
    "mixed-fermentation wiki (read)"
)


def window(
    quantity: str,
    minimum: float | None = None,
    target: float | None = None,
    maximum: float | None = None,
    *,
    basis: str = "",
    source: str = COMMON_PRACTICE,
) -> WindowDraft:
    return WindowDraft(quantity, minimum, target, maximum, basis, source)


def strength_ww(
    minimum: float | None = None,
    target: float | None = None,
    maximum: float | None = None,
    *,
    source: str = COMMON_PRACTICE,
) -> WindowDraft:
    return window(Quantity.CONCENTRATION, minimum, target, maximum, basis=Basis.WW, source=source)


def strength_mg_l(minimum: float, target: float, maximum: float) -> WindowDraft:
    return window(Quantity.CONCENTRATION, minimum, target, maximum, basis=Basis.MG_L)


def temperature_c(
    minimum: float | None = None,
    target: float | None = None,
    maximum: float | None = None,
    *,
    source: str = COMMON_PRACTICE,
) -> WindowDraft:
    return window(Quantity.TEMPERATURE_C, minimum, target, maximum, source=source)


def time_min(
    minimum: float | None = None,
    target: float | None = None,
    maximum: float | None = None,
    *,
    source: str = COMMON_PRACTICE,
) -> WindowDraft:
    return window(Quantity.TIME_MIN, minimum, target, maximum, source=source)


def vent(instruction: str) -> StepDraft:
    return StepDraft(
        StepKind.VENT,
        instruction=instruction,
        end_criterion=EndCriterion.VENTED,
        end_criterion_source=COMMON_PRACTICE,
    )


def pre_rinse(instruction: str, *, windows: tuple[WindowDraft, ...] = ()) -> StepDraft:
    return StepDraft(
        StepKind.PRE_RINSE,
        instruction=instruction,
        end_criterion=EndCriterion.RUNS_CLEAR,
        end_criterion_source=COMMON_PRACTICE,
        windows=windows,
    )


def rinse(
    instruction: str = "",
    *,
    end: str = EndCriterion.NEUTRAL,
    source: str = BEST_PRACTICES,
) -> StepDraft:
    return StepDraft(
        StepKind.RINSE,
        instruction=instruction,
        end_criterion=end,
        end_criterion_source=source,
    )


def drain(instruction: str) -> StepDraft:
    return StepDraft(
        StepKind.DRAIN,
        instruction=instruction,
        end_criterion=EndCriterion.DRAINED,
        end_criterion_source=COMMON_PRACTICE,
    )


def sample(instruction: str) -> StepDraft:
    return StepDraft(StepKind.SAMPLE, instruction=instruction, windows=(temperature_c(maximum=30),))


SAMPLE_TANK = sample("ATP of the last rinse and of the swabs, before the sanitiser.")
SAMPLE_LINE = sample("ATP of the cooled rinse, before heat.")
SAMPLE_PROVED = sample("ATP of the rinse, once it is proved.")
LUKEWARM = temperature_c(maximum=40, source=NOT_ABOVE_40_C)
VENT_TANK = vent(
    "Let the pressure off, then drive the CO2 out with air. Open a vent wide enough for the whole "
    "clean and lift the vacuum valve by hand."
)
PRE_RINSE_TANK = pre_rinse("In bursts, draining between them.", windows=(LUKEWARM,))
RINSE_HOT_TANK = rinse(
    "Vent open. Temper the water, or wait until the tank is below 45 °C, before cold water meets "
    "it. An open vent alone is not enough."
)


def tank_acid(agents: Mapping[str, Agent], *, warmest_c: float = 40) -> StepDraft:
    """Up to 60 °C is common; a tank's stays below what counts as hot and folds it in cooling."""
    return StepDraft(
        StepKind.ACID,
        agents[ACID_BLEND],
        windows=(
            strength_ww(0.5, 1, 2),
            temperature_c(15, 25, warmest_c),
            time_min(10, 15, 30),
        ),
    )


def tank_sanitiser(
    agents: Mapping[str, Agent],
    *,
    minutes: tuple[float, float, float] = (5, 10, 30),
    instruction: str = "",
) -> StepDraft:
    return StepDraft(
        StepKind.SANITISER,
        agents[PERACETIC],
        instruction=instruction,
        windows=(
            strength_mg_l(80, 150, 200),
            temperature_c(maximum=25),
            time_min(*minutes),
        ),
    )


def hot_caustic(agents: Mapping[str, Agent]) -> StepDraft:
    return StepDraft(
        StepKind.CAUSTIC,
        agents[CAUSTIC],
        instruction="Measure strength and temperature at the return, at the end as well.",
        windows=(
            strength_ww(1.5, 2, 3),
            temperature_c(60, 75, 85),
            time_min(20, 30, 45),
        ),
    )


def cold_caustic(agents: Mapping[str, Agent]) -> StepDraft:
    return StepDraft(
        StepKind.CAUSTIC,
        agents[CAUSTIC],
        instruction="Measure strength at the return, at the end as well: CO2 eats caustic.",
        windows=(
            strength_ww(2, 2.5, 4),
            temperature_c(10, 20, 40),
            time_min(30, 45, 60),
        ),
    )

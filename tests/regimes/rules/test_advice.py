"""What a brewer is told of a regime or an agent and may decide."""

import dataclasses

import pytest

from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.models import Agent
from brewhygiene.regimes.rules.advice import advice_on, advice_on_agent, stale_sources
from tests.regimes.rules.test_problems import ACID, CAUSTIC, PERACETIC

RINSE = StepDraft("rinse")


def sanitise(maximum: float | None, basis: str = "mg_l") -> StepDraft:
    window = WindowDraft(
        "concentration", minimum=0.001, maximum=maximum, basis=basis, source=COMMON_PRACTICE
    )
    return StepDraft("sanitiser", PERACETIC, windows=(window,))


def advised(*steps: StepDraft, vessel_kinds: tuple[str, ...] = ("hose_set",)) -> list[str]:
    return [problem.message for problem in advice_on(steps, vessel_kinds=vessel_kinds)]


def test_window_above_what_may_stay_is_advised() -> None:
    assert advised(sanitise(201)) == [
        (
            "No rinse follows, and this window goes up to 201 mg/L: Peracetic may be left up to "
            "200 mg/L (the label)."
        )
    ]


@pytest.mark.parametrize(
    "steps", [(sanitise(200),), (sanitise(900), RINSE), (sanitise(0.02, "wv"),)]
)
def test_window_within_what_may_stay_is_not_advised(steps: tuple[StepDraft, ...]) -> None:
    assert advised(*steps) == []


def test_window_on_another_basis_is_compared_in_mg_l() -> None:
    assert advised(sanitise(0.0201, "ww")) == [
        (
            "No rinse follows, and this window goes up to 201 mg/L: Peracetic may be left up to "
            "200 mg/L (the label)."
        )
    ]


@pytest.mark.parametrize(
    "step", [StepDraft("sanitiser", PERACETIC), sanitise(None), sanitise(0.1, "vv")]
)
def test_window_that_cannot_be_compared_is_advised(step: StepDraft) -> None:
    assert advised(step) == [
        (
            "No rinse follows and Peracetic may be left up to 200 mg/L (the label), but the step "
            "sets no maximum to compare with."
        )
    ]


def test_caustic_in_a_closed_tank_without_venting_is_advised() -> None:
    wash = StepDraft("caustic", CAUSTIC)
    assert advised(wash, RINSE, vessel_kinds=("fermenter",)) == [
        (
            "No vent-and-purge step comes before this caustic step, and a fermenter is closed. The "
            "safety checks before the step are still required."
        )
    ]
    assert advised(StepDraft("vent"), wash, RINSE, vessel_kinds=("fermenter",)) == []
    assert advised(wash, RINSE, vessel_kinds=("heat_exchanger",)) == []


def test_caustic_and_acid_without_a_rinse_between_are_advised() -> None:
    steps = (StepDraft("acid", ACID), StepDraft("caustic", CAUSTIC), RINSE)
    assert advised(*steps, vessel_kinds=("heat_exchanger",)) == [
        "No rinse between caustic and acid. They neutralise each other and heat up."
    ]


def test_agent_at_its_starting_value_gives_no_advice() -> None:
    assert advice_on_agent(PERACETIC) == []


def test_agent_above_its_starting_values_names_each_with_its_source() -> None:
    agent = Agent(
        name="Peracetic",
        active_substance="PAA",
        no_rinse_allowed=True,
        no_rinse_max_mg_l=501,
    )
    assert advice_on_agent(agent) == [
        (
            "501 mg/L is above the starting value for peracetic acid, 200 mg/L (21 CFR 178.1010, "
            "from memory, 100 to 200 ppm, with hydrogen peroxide). Check the label and the current "
            "code."
        ),
        (
            "501 mg/L is above the starting value for peracetic acid, 500 mg/L (65 FR 75168 "
            "(2000), read, names breweries). Check the label and the current code."
        ),
    ]


def test_agent_that_may_not_stay_gives_no_advice() -> None:
    agent = Agent(active_substance="PAA", no_rinse_allowed=False, no_rinse_max_mg_l=900)
    assert advice_on_agent(agent) == []


def test_numbers_changed_under_the_same_source_are_doubted() -> None:
    window = WindowDraft("time_min", minimum=15, source="A manual (invented)")
    before = [StepDraft("caustic", CAUSTIC, windows=(window,))]
    after = [StepDraft("caustic", CAUSTIC, windows=(dataclasses.replace(window, minimum=10),))]
    assert [doubt.message for doubt in stale_sources(before, after)] == [
        (
            "Step 1, time: the numbers changed and the source did not. Check that “A manual "
            "(invented)” still applies."
        )
    ]
    assert stale_sources(before, before) == []


def test_numbers_changed_without_any_source_are_not_doubted() -> None:
    window = WindowDraft("time_min", minimum=15, source=COMMON_PRACTICE)
    before = [StepDraft("rinse", windows=(window,))]
    after = [StepDraft("rinse", windows=(dataclasses.replace(window, minimum=10),))]
    assert stale_sources(before, after) == []


@pytest.mark.parametrize(
    ("celsius", "advised_of"), [(25, False), (25.1, True), (40, True), (40.1, False)]
)
def test_agent_hotter_than_usual_is_advised_until_it_is_refused(
    celsius: float, advised_of: bool
) -> None:
    window = WindowDraft("temperature_c", maximum=celsius, source=COMMON_PRACTICE)
    step = StepDraft("sanitiser", PERACETIC, windows=(window,))
    found = [text for text in advised(step, RINSE) if " above 25 °C: it gives off vapour" in text]
    assert bool(found) == advised_of
    assert all(text.startswith("Peracetic above 25 °C: ") for text in found)


def test_caustic_in_a_draught_line_is_advised_sooner() -> None:
    window = WindowDraft("temperature_c", 27, None, 53, source=COMMON_PRACTICE)
    step = StepDraft("caustic", CAUSTIC, windows=(window,))
    assert advised(step, RINSE, vessel_kinds=("heat_exchanger",)) == []
    text, unbounded = advised(step, RINSE, vessel_kinds=("draught_line",))
    assert unbounded.startswith("Caustic has no maximum strength here. 3 % w/w is usual.")
    assert " above 52 °C: it harms beer tubing. Check the label. Source: Brewers" in text

"""What makes a regime one that may be run: each rule at its edge, in both directions."""

import dataclasses

import pytest

from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.models import Agent
from brewhygiene.regimes.rules.problems import MAX_STEPS, Problem, problems_of

CAUSTIC = Agent(name="Caustic", kind="caustic", active_substance="NaOH", concentrate_strength_ww=50)
ACID = Agent(name="Acid", kind="acid", active_substance="HNO3", concentrate_strength_ww=53)
PERACETIC = Agent(
    name="Peracetic",
    kind="sanitiser",
    active_substance="PAA",
    concentrate_strength_ww=15,
    no_rinse_allowed=True,
    no_rinse_max_mg_l=200,
    no_rinse_source="the label",
)
CHLORINE = Agent(
    name="Hypochlorite", kind="sanitiser", active_substance="chlorine", concentrate_strength_ww=12
)

RINSE = StepDraft("rinse")
WASH = StepDraft("caustic", CAUSTIC)
DESCALE = StepDraft("acid", ACID)
SANITISE = StepDraft("sanitiser", PERACETIC)
BLEACH = StepDraft("sanitiser", CHLORINE)


def window(quantity: str, *bounds: float | None, **values: str) -> WindowDraft:
    minimum, target, maximum = bounds
    return WindowDraft(quantity, minimum, target, maximum, **{"source": COMMON_PRACTICE, **values})


def with_windows(step: StepDraft, *windows: WindowDraft) -> StepDraft:
    return dataclasses.replace(step, windows=windows)


def found(
    *steps: StepDraft, under_co2: bool = False, resanitises_only: bool = False
) -> list[tuple[int | None, str]]:
    problems = problems_of(steps, under_co2=under_co2, resanitises_only=resanitises_only)
    return [(problem.step, problem.field) for problem in problems]


def test_regime_without_steps_is_refused() -> None:
    assert problems_of([], under_co2=False, resanitises_only=False) == [
        Problem("A regime needs at least one step.")
    ]


def test_regime_has_an_upper_number_of_steps() -> None:
    assert found(*[RINSE] * MAX_STEPS) == []
    assert found(*[RINSE] * (MAX_STEPS + 1)) == [(None, "")]


def test_ordinary_order_is_accepted() -> None:
    assert found(RINSE, WASH, RINSE, DESCALE, RINSE, SANITISE, StepDraft("drain")) == []


def test_step_of_no_known_kind_is_refused() -> None:
    assert found(StepDraft("soak")) == [(0, "kind")]


@pytest.mark.parametrize("kind", ["caustic", "acid", "sanitiser"])
def test_chemical_step_needs_an_agent(kind: str) -> None:
    assert found(StepDraft(kind), RINSE) == [(0, "agent")]


@pytest.mark.parametrize(
    ("kind", "agent"), [("caustic", ACID), ("acid", CAUSTIC), ("sanitiser", CAUSTIC)]
)
def test_agent_of_another_kind_is_refused(kind: str, agent: Agent) -> None:
    assert found(StepDraft(kind, agent), RINSE) == [(0, "agent")]


def test_rinse_takes_no_agent() -> None:
    assert found(StepDraft("rinse", CAUSTIC)) == [(0, "agent")]


def test_agent_out_of_use_is_refused() -> None:
    retired = Agent(name="Old", kind="acid", active_substance="HNO3", active=False)
    assert found(StepDraft("acid", retired), RINSE) == [(0, "agent")]


@pytest.mark.parametrize("bounds", [(2, 1, 3), (1, 4, 3), (3, None, 2), (2, 1, None), (None, 4, 3)])
def test_window_out_of_order_is_refused(bounds: tuple[float | None, ...]) -> None:
    step = with_windows(RINSE, window("ph", *bounds))
    assert found(step) == [(0, "ph_minimum")]


@pytest.mark.parametrize("bounds", [(2, 2, 2), (1, None, None), (None, None, 3), (1, 2, None)])
def test_window_in_order_is_accepted(bounds: tuple[float | None, ...]) -> None:
    assert found(with_windows(RINSE, window("ph", *bounds))) == []


def test_aim_alone_is_no_window() -> None:
    assert found(with_windows(RINSE, window("ph", None, 7, None))) == [(0, "ph_minimum")]


@pytest.mark.parametrize(
    ("quantity", "bounds", "field"),
    [
        ("ph", (None, None, 15), "ph_maximum"),
        ("temperature_c", (400, None, None), "temperature_c_minimum"),
        ("time_min", (-1, None, None), "time_min_minimum"),
    ],
)
def test_window_that_cannot_be_is_refused(
    quantity: str, bounds: tuple[float | None, ...], field: str
) -> None:
    assert found(with_windows(RINSE, window(quantity, *bounds))) == [(0, field)]


def test_strength_without_basis_is_refused() -> None:
    step = with_windows(WASH, window("concentration", 1, 2, 3))
    assert found(step, RINSE) == [(0, "concentration_basis")]


def test_strength_of_a_rinse_is_refused() -> None:
    step = with_windows(RINSE, window("concentration", 1, 2, 3, basis="ww"))
    assert found(step) == [(0, "concentration_minimum")]


def test_basis_of_a_temperature_is_refused() -> None:
    step = with_windows(RINSE, window("temperature_c", 1, 2, 3, basis="ww"))
    assert found(step) == [(0, "temperature_c_minimum")]


def test_window_without_source_is_refused() -> None:
    step = with_windows(RINSE, window("time_min", 5, None, None, source="  "))
    assert found(step) == [(0, "time_min_source")]


def test_end_without_source_is_refused() -> None:
    assert found(StepDraft("rinse", end_criterion="neutral")) == [(0, "end_criterion_source")]
    assert found(StepDraft("rinse", end_criterion="neutral", end_criterion_source="us")) == []


def test_texts_that_do_not_fit_are_refused() -> None:
    long = dataclasses.replace(
        with_windows(RINSE, window("time_min", 5, None, None, source="s" * 201)),
        instruction="i" * 301,
        end_criterion="neutral",
        end_criterion_source="s" * 201,
    )
    assert found(long) == [
        (0, "instruction"),
        (0, "end_criterion_source"),
        (0, "time_min_source"),
    ]


def test_caustic_under_co2_is_refused() -> None:
    assert found(WASH, RINSE, under_co2=True) == [(0, "kind")]


@pytest.mark.parametrize("bounds", [(45, None, None), (10, 45, None), (None, None, 45)])
def test_hot_step_under_co2_is_refused(bounds: tuple[float | None, ...]) -> None:
    step = with_windows(DESCALE, window("temperature_c", *bounds))
    assert found(step, RINSE, under_co2=True) == [(0, "temperature_c_minimum")]
    assert found(step, RINSE) == []


def test_hot_water_under_co2_is_refused() -> None:
    assert found(StepDraft("hot_water"), under_co2=True) == [(0, "kind")]


def test_cold_acid_under_co2_is_accepted() -> None:
    step = with_windows(DESCALE, window("temperature_c", None, None, 44.9))
    assert found(step, RINSE, SANITISE, under_co2=True) == []


@pytest.mark.parametrize(
    ("first", "second"),
    [(DESCALE, BLEACH), (BLEACH, DESCALE), (SANITISE, BLEACH), (BLEACH, SANITISE)],
)
@pytest.mark.parametrize("between", [[], [StepDraft("drain")], [StepDraft("hot_water")]])
def test_acid_and_chlorine_without_a_rinse_between_are_refused(
    first: StepDraft, second: StepDraft, between: list[StepDraft]
) -> None:
    assert found(first, *between, second, RINSE) == [(1 + len(between), "agent")]


@pytest.mark.parametrize("rinse", ["rinse", "pre_rinse"])
@pytest.mark.parametrize("end", ["neutral", "tap_ph", "tap_conductivity"])
def test_acid_and_chlorine_with_a_measured_rinse_between_are_accepted(rinse: str, end: str) -> None:
    between = StepDraft(rinse, end_criterion=end, end_criterion_source=COMMON_PRACTICE)
    assert found(DESCALE, between, BLEACH, RINSE) == []


@pytest.mark.parametrize("end", ["", "runs_clear", "drained"])
def test_acid_and_chlorine_with_a_rinse_that_proves_nothing_are_refused(end: str) -> None:
    between = StepDraft(
        "rinse", end_criterion=end, end_criterion_source=COMMON_PRACTICE if end else ""
    )
    problem, *others = problems_of(
        [DESCALE, between, BLEACH, RINSE], under_co2=False, resanitises_only=False
    )
    assert (problem.step, problem.field, others) == (2, "agent", [])
    assert problem.message.startswith("Hypochlorite must not meet ")
    assert "Put a rinse between them whose end is measured: pH or conductivity." in problem.message


def test_peroxide_and_chlorine_are_refused() -> None:
    peroxide = dataclasses.replace(
        SANITISE,
        agent=Agent(name="Peroxide", kind="sanitiser", active_substance="H2O2",
                    concentrate_strength_ww=35, no_rinse_allowed=True),
    )  # fmt: skip
    assert found(peroxide, BLEACH, RINSE) == [(1, "agent")]
    assert found(BLEACH, peroxide, RINSE) == [(1, "agent")]


@pytest.mark.parametrize(
    ("step", "ask", "never"), [(WASH, 85, 95), (SANITISE, 25, 40), (BLEACH, 25, 40)]
)
def test_agent_hotter_than_it_may_ever_be_is_refused(
    step: StepDraft, ask: float, never: float
) -> None:
    def at(celsius: float) -> list[tuple[int | None, str]]:
        return found(with_windows(step, window("temperature_c", None, None, celsius)), RINSE)

    assert at(ask) == at(never) == []
    assert at(never + 0.1) == [(0, "temperature_c_maximum")]


def test_caustic_in_a_draught_line_is_refused_where_it_harms_the_tubing() -> None:
    def at(celsius: float, kind: str) -> list[str]:
        step = with_windows(WASH, window("temperature_c", 50, None, celsius))
        problems = problems_of(
            [step, RINSE], under_co2=False, resanitises_only=False, vessel_kinds=[kind]
        )
        return [problem.field for problem in problems]

    assert at(60, "draught_line") == []
    assert at(60.1, "draught_line") == ["temperature_c_maximum"]
    assert at(60.1, "hose_set") == []


def test_caustic_straight_before_sanitiser_is_refused() -> None:
    assert found(WASH, SANITISE) == [(1, "kind")]
    assert found(WASH, StepDraft("drain"), SANITISE) == [(2, "kind")]
    assert found(WASH, RINSE, SANITISE) == []


@pytest.mark.parametrize("step", [WASH, DESCALE, BLEACH])
def test_agent_that_may_not_stay_needs_a_rinse_after_it(step: StepDraft) -> None:
    assert found(step) == [(0, "agent")]
    assert found(step, StepDraft("drain")) == [(0, "agent")]
    assert found(step, RINSE, StepDraft("drain")) == []


def test_agent_that_may_stay_needs_no_rinse_after_it() -> None:
    assert found(SANITISE, StepDraft("drain")) == []


@pytest.mark.parametrize("step", [WASH, DESCALE])
def test_resanitising_regime_takes_no_caustic_or_acid(step: StepDraft) -> None:
    assert found(step, RINSE, SANITISE, resanitises_only=True) == [(0, "kind")]


def test_resanitising_regime_has_to_sanitise() -> None:
    assert found(RINSE, resanitises_only=True) == [(None, "")]
    assert found(RINSE, SANITISE, resanitises_only=True) == []
    assert found(StepDraft("hot_water"), resanitises_only=True) == []

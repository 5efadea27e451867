"""Where a regime may sample: after the last rinse, never in what an agent left."""

import pytest

from brewhygiene.regimes.cautions import cautions_for_kind
from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.library.agents import AGENTS
from brewhygiene.regimes.library.regimes import REGIMES
from brewhygiene.regimes.models import Agent, Step
from brewhygiene.regimes.rules.advice import advice_on
from tests.regimes.rules.test_problems import (
    DESCALE,
    PERACETIC,
    RINSE,
    SANITISE,
    WASH,
    found,
)

COOL = WindowDraft("temperature_c", maximum=30, source=COMMON_PRACTICE)
SAMPLE = StepDraft("sample", windows=(COOL,))
HOT_WATER = StepDraft("hot_water")
PROVED = StepDraft("rinse", end_criterion="neutral", end_criterion_source="ours")


@pytest.mark.parametrize(
    ("steps", "problems"),
    [
        ((WASH, PROVED, SAMPLE, SANITISE), []),
        ((WASH, PROVED, DESCALE, PROVED, SAMPLE, SANITISE), []),
        ((RINSE, SAMPLE), []),
        ((RINSE, SANITISE, SAMPLE), []),
        ((RINSE, HOT_WATER, SAMPLE), []),
        # Before the last caustic or acid.
        ((WASH, PROVED, SAMPLE, DESCALE, PROVED, SANITISE), [(2, "kind")]),
        # In what an agent left, or before any rinse.
        ((WASH, SAMPLE, PROVED, SANITISE), [(1, "kind")]),
        ((WASH, PROVED, DESCALE, SAMPLE, PROVED), [(3, "kind")]),
        ((SAMPLE, RINSE), [(0, "kind")]),
        ((StepDraft("pre_rinse"), SAMPLE), [(1, "kind")]),
        ((RINSE, StepDraft("sample", PERACETIC)), [(1, "agent")]),
    ],
    ids=lambda value: None,
)
def test_a_sample_step_has_its_place(
    steps: tuple[StepDraft, ...], problems: list[tuple[int, str]]
) -> None:
    assert found(*steps) == problems


def advised(*steps: StepDraft) -> list[tuple[int | None, str]]:
    return [
        (problem.step, problem.message[:34])
        for problem in advice_on(steps, vessel_kinds=("hose_set",))
        if "sample" in problem.message.lower()
    ]


IN_SANITISER = "This sample is taken in the saniti"
NOT_COOL = "This sample step does not ask for "


@pytest.mark.parametrize(
    ("steps", "advice"),
    [
        ((RINSE, SAMPLE, SANITISE), []),
        ((RINSE, SANITISE, SAMPLE), [(2, IN_SANITISER)]),
        ((RINSE, SANITISE, RINSE, SAMPLE), []),
        ((RINSE, StepDraft("sample"), SANITISE), [(1, NOT_COOL)]),
    ],
    ids=lambda value: None,
)
def test_a_sample_in_the_sanitiser_or_warm_is_advised_against(
    steps: tuple[StepDraft, ...], advice: list[tuple[int, str]]
) -> None:
    assert advised(*steps) == advice


@pytest.mark.parametrize(("maximum", "advice"), [(30, []), (30.1, [(1, NOT_COOL)])])
def test_the_rinse_is_cooled_to_30_degrees(maximum: float, advice: list[tuple[int, str]]) -> None:
    warm = WindowDraft("temperature_c", maximum=maximum, source=COMMON_PRACTICE)
    assert advised(RINSE, StepDraft("sample", windows=(warm,)), SANITISE) == advice


def test_every_starting_regime_samples_in_its_place_but_the_one_before_filling() -> None:
    agents = {
        values.name: Agent(name=values.name, kind=values.kind, active=True) for values in AGENTS
    }
    without = []
    for regime in REGIMES:
        kinds = [step.kind for step in regime.steps(agents)]
        if "sample" not in kinds:
            without.append(regime.about.name)
            continue
        place = kinds.index("sample")
        assert kinds[place - 1] == "rinse"
        assert kinds[place + 1 : place + 2] in ([], ["sanitiser"], ["hot_water"])
        assert not {"caustic", "acid"} & set(kinds[place:])
    assert without == ["Sanitise before filling"]


def test_a_sample_step_warns_of_pressure_and_of_entering() -> None:
    step = Step(pk=1, kind="sample")
    step._prefetched_objects_cache = {"windows": []}
    for kind, codes in (("fermenter", ["sample", "confined_space"]), ("hose_set", ["sample"])):
        assert [c.code for c in cautions_for_kind(step, kind, under_co2=False)] == codes

"""How strong an agent may be in kegs, hoses and draught lines."""

import pytest

from brewhygiene.regimes.drafts import COMMON_PRACTICE, StepDraft, WindowDraft
from brewhygiene.regimes.materials.strength import strength_limit, too_strong_words
from brewhygiene.regimes.rules.advice import advice_on
from brewhygiene.regimes.rules.problems import problems_of
from tests.regimes.rules.test_problems import ACID, CAUSTIC


def step(kind: str, maximum: float | None, basis: str = "ww") -> StepDraft:
    window = WindowDraft(
        "concentration", minimum=0.5, maximum=maximum, basis=basis, source=COMMON_PRACTICE
    )
    return StepDraft(kind, CAUSTIC if kind == "caustic" else ACID, windows=(window,))


def asked(one: StepDraft, *kinds: str) -> bool:
    return too_strong_words(one, kinds, refused=False) is not None


def refused(one: StepDraft, *kinds: str) -> bool:
    return too_strong_words(one, kinds, refused=True) is not None


@pytest.mark.parametrize(
    ("vessel_kind", "kind", "maximum", "ask", "refuse"),
    [
        # Keg and hose caustic above 3 % ask, above 5 % refuse; acid above 2 % ask: common
        # practice, no source.
        ("keg", "caustic", 3, False, False),
        ("keg", "caustic", 3.1, True, False),
        ("keg", "caustic", 5, True, False),
        ("keg", "caustic", 5.1, False, True),
        ("hose_set", "caustic", 3, False, False),
        ("hose_set", "caustic", 3.1, True, False),
        ("hose_set", "caustic", 5.1, False, True),
        ("keg", "acid", 2, False, False),
        ("keg", "acid", 2.1, True, False),
        ("hose_set", "acid", 2, False, False),
        ("hose_set", "acid", 20, True, False),
        # 3 % for old or problem lines: the draught manual, read; above 4 % refuse: common
        # practice, no source.
        ("draught_line", "caustic", 3, False, False),
        ("draught_line", "caustic", 3.1, True, False),
        ("draught_line", "caustic", 4, True, False),
        ("draught_line", "caustic", 4.1, False, True),
        ("draught_line", "acid", 20, False, False),
        ("fermenter", "caustic", 20, False, False),
    ],
)
def test_strength_is_asked_about_and_then_refused(
    vessel_kind: str, kind: str, maximum: float, ask: bool, refuse: bool
) -> None:
    one = step(kind, maximum)
    assert (asked(one, vessel_kind), refused(one, vessel_kind)) == (ask, refuse)


def test_strictest_of_several_kinds_of_vessel_counts() -> None:
    limit = strength_limit("caustic", ["fermenter", "keg", "draught_line"])
    assert limit is not None
    assert (limit.ask_above_ww, limit.never_above_ww) == (3, 4)


def test_strength_without_a_maximum_is_advised_and_not_refused() -> None:
    assert asked(step("caustic", None), "keg")
    assert not refused(step("caustic", None), "keg")
    assert not asked(step("caustic", None), "fermenter")


def test_strength_on_another_basis_is_compared_in_percent_by_weight() -> None:
    assert not refused(step("caustic", 50_000, "mg_l"), "keg")
    assert refused(step("caustic", 56_000, "mg_l"), "keg")


def test_rules_of_a_regime_name_the_limit_beside_its_field() -> None:
    steps = [step("caustic", 6), StepDraft("rinse")]
    (problem,) = [
        found
        for found in problems_of(
            steps, under_co2=False, resanitises_only=False, vessel_kinds=["keg"]
        )
        if "too strong" in found.message
    ]
    assert (problem.step, problem.field) == (0, "concentration_maximum")
    assert problem.message == (
        "6 % w/w is too strong for this kind of vessel. Enter at most 5 % w/w. Source: common "
        "practice, no source."
    )
    steps = [step("caustic", 4), StepDraft("rinse")]
    told = [found.message for found in advice_on(steps, vessel_kinds=["keg"])]
    assert (
        "Up to 4 % w/w: more than 3 % is not usual here. Check the label. Source: common "
        "practice, no source." in told
    )

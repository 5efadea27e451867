"""Run lengths held against other ways to them."""

import pytest

from brewhygiene.science.control.rules import (
    BEYOND_3,
    FOUR_OF_FIVE,
    RULE_SETS,
    SIDE_8,
    TREND_6,
    TWO_OF_THREE,
    RunRule,
    run_rules,
    same_side,
)
from brewhygiene.science.control.run_length import (
    cusum_run_length,
    ewma_run_length,
    false_alarm_chance,
    rules_run_length,
)
from brewhygiene.science.errors import OutOfRange


def test_ewma_that_forgets_everything_is_a_chart_of_single_readings() -> None:
    ours = ewma_run_length(weight=1, width=3)
    assert ours == pytest.approx(rules_run_length(rules=(BEYOND_3,)), rel=1e-6)


def test_sides_of_the_cusum_add_up() -> None:
    upper = cusum_run_length(two_sided=False)
    assert cusum_run_length() == pytest.approx(upper / 2)


def test_one_side_alarms_half_as_often_when_steady_and_as_soon_when_not() -> None:
    assert ewma_run_length(two_sided=False) == pytest.approx(2 * ewma_run_length(), rel=0.02)
    assert ewma_run_length(two_sided=False, shift=1) == pytest.approx(
        ewma_run_length(shift=1), rel=0.001
    )


@pytest.mark.parametrize("n", [2, 5, 8])
def test_run_on_one_side_alone_takes_two_to_the_n(n: int) -> None:
    assert rules_run_length(rules=(same_side(n),)) == pytest.approx(2**n - 1)


def test_run_length_of_a_shifted_mean_is_shorter() -> None:
    rules = RULE_SETS["western_electric"].rules
    assert rules_run_length(rules=rules, shift=1) < 15 < rules_run_length(rules=rules)


def test_chain_agrees_with_the_rules_themselves() -> None:
    """The states of the chain and the finder of patterns are written apart."""
    import numpy as np

    rules = (BEYOND_3, TWO_OF_THREE, FOUR_OF_FIVE, SIDE_8)
    chance = np.random.default_rng(7)
    lengths = []
    for _ in range(1500):
        z: list[float] = []
        found: tuple[object, ...] = ()
        while not found:
            z.extend(chance.standard_normal(200).tolist())
            found = run_rules(z, rules)
        lengths.append(found[0].at + 1)
    mean, error = np.mean(lengths), np.std(lengths) / len(lengths) ** 0.5
    assert abs(mean - rules_run_length(rules=rules)) < 4 * error


def test_rules_without_a_small_chain_are_refused() -> None:
    with pytest.raises(OutOfRange, match="m of n on one side only"):
        rules_run_length(rules=(BEYOND_3, TREND_6))
    with pytest.raises(OutOfRange, match="2 of 1"):
        run_rules([0.0], [RunRule("odd", "odd", "beyond", 1, 2, 1.0)])


def test_false_alarms_grow_with_readings_and_with_a_short_baseline() -> None:
    exact = false_alarm_chance(readings=30)
    assert false_alarm_chance(readings=0) == 0
    assert exact < false_alarm_chance(readings=60) < 1
    assert exact < false_alarm_chance(readings=30, baseline=60)
    assert false_alarm_chance(readings=30, baseline=60) < false_alarm_chance(
        readings=30, baseline=20
    )
    assert false_alarm_chance(readings=30, rules=(BEYOND_3, SIDE_8)) > exact


def test_impossible_designs_are_refused() -> None:
    with pytest.raises(OutOfRange):
        ewma_run_length(weight=0)
    with pytest.raises(OutOfRange):
        cusum_run_length(decision=0)
    with pytest.raises(OutOfRange):
        false_alarm_chance(readings=-1)

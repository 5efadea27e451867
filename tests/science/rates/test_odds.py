"""The regression: against other programs where they do the same, and against a known truth."""

import math
import time
import warnings

import numpy as np
import pytest

from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.rates.odds import THE_REST, Factor, Regression, regress

SHAPE = {"vessel": 6, "regime": 3, "season": 4}


def invented(
    seed: int, *, number: int, spread: float, shape: dict[str, int] | None = None
) -> tuple[list[bool], list[Factor], dict[str, float]]:
    """Outcomes by chance from effects by chance: what came, the factors, the true effects."""
    chance = np.random.default_rng(seed)
    log_odds = np.full(number, -1.8)
    factors: list[Factor] = []
    truth: dict[str, float] = {}
    for name, levels in (shape or SHAPE).items():
        effects = chance.normal(0, spread, levels)
        codes = chance.integers(0, levels, number)
        log_odds += effects[codes]
        factors.append(Factor(name, [f"{name} {code}" for code in codes]))
        truth |= {f"{name} {n}": e for n, e in enumerate(effects - effects.mean())}
    outcomes = chance.random(number) < 1 / (1 + np.exp(-log_odds))
    return [bool(outcome) for outcome in outcomes], factors, truth


def log_odds_of(found: Regression) -> dict[str, float]:
    return {effect.level: math.log(effect.odds_ratio) for effect in found.effects}


def columns(factor: Factor) -> tuple[list[str], np.ndarray]:
    levels = sorted(set(factor.levels))
    return levels, np.array([[level == one for one in levels] for level in factor.levels], float)


def test_penalised_fit_is_that_of_another_program() -> None:
    from sklearn.linear_model import LogisticRegression

    outcomes, factors, _ = invented(1, number=600, spread=0.8)
    spread = 0.7
    found = regress(outcomes=outcomes, factors=factors, spread=spread)
    other = LogisticRegression(C=spread**2, tol=1e-12, max_iter=10_000).fit(
        np.hstack([columns(factor)[1] for factor in factors]), outcomes
    )
    names = [level for factor in factors for level in columns(factor)[0]]
    theirs = dict(zip(names, other.coef_[0], strict=True))
    # Both centre: the penalty makes the effects of a factor add up to nothing.
    assert log_odds_of(found) == pytest.approx(theirs, abs=1e-5)


def test_fit_without_a_penalty_is_plain_logistic_regression() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # what another program's imports warn of
        import statsmodels.api as sm

    outcomes, factors, _ = invented(2, number=900, spread=0.5)
    found = regress(outcomes=outcomes, factors=factors, spread=1000)
    design = np.hstack([np.ones((900, 1)), *(columns(f)[1][:, 1:] for f in factors)])
    other = sm.GLM(np.array(outcomes, float), design, family=sm.families.Binomial()).fit()
    ours = log_odds_of(found)
    place = 1
    for factor in factors:
        first, *others = columns(factor)[0]
        for level in others:
            assert ours[level] - ours[first] == pytest.approx(other.params[place], abs=1e-4)
            place += 1
    # Two levels: the distance of either from their average is half their difference.
    halves = [Factor("half", ["a" if n % 2 else "b" for n in range(900)])]
    two = regress(outcomes=outcomes, factors=halves, spread=1000).effects[0]
    other = sm.GLM(
        np.array(outcomes, float),
        np.array([[1.0, n % 2] for n in range(900)]),
        family=sm.families.Binomial(),
    ).fit()
    half_width = (math.log(two.high) - math.log(two.low)) / 2
    assert half_width == pytest.approx(1.959964 * other.bse[1] / 2, rel=1e-4)


def test_intervals_hold_the_truth_about_as_often_as_they_say() -> None:
    held = total = 0
    for seed in range(40):
        outcomes, factors, truth = invented(seed, number=1200, spread=0.6)
        for effect in regress(outcomes=outcomes, factors=factors).effects:
            held += math.log(effect.low) <= truth[effect.level] <= math.log(effect.high)
            total += 1
    assert 0.91 <= held / total <= 0.98


def test_nothing_is_named_where_nothing_differs() -> None:
    named = 0
    for seed in range(60):
        outcomes, factors, _ = invented(seed, number=800, spread=0)
        named += bool(regress(outcomes=outcomes, factors=factors).named)
    assert named <= 6  # of 60 pages of 13 levels each


def test_the_one_that_differs_is_named_first() -> None:
    chance = np.random.default_rng(5)
    vessels = chance.integers(0, 8, 900)
    regimes = chance.integers(0, 3, 900)
    outcomes = chance.random(900) < np.where(vessels == 3, 0.35, 0.08)
    found = regress(
        outcomes=list(outcomes),
        factors=[
            Factor("vessel", [f"FV{n}" for n in vessels]),
            Factor("regime", [f"R{n}" for n in regimes]),
        ],
    )
    assert found.named[0].level == "FV3"
    assert found.named[0].low > 2
    assert [e.factor for e in found.named if e.factor == "regime"] == []
    assert found.spreads["vessel"] > found.spreads["regime"]


def test_vessel_is_not_blamed_for_its_regime() -> None:
    chance = np.random.default_rng(6)
    vessels = chance.integers(0, 6, 1500)
    weak = chance.random(1500) < np.where(vessels == 0, 0.9, 0.15)
    outcomes = chance.random(1500) < np.where(weak, 0.3, 0.06)
    found = regress(
        outcomes=list(outcomes),
        factors=[
            Factor("vessel", [f"FV{n}" for n in vessels]),
            Factor("regime", ["weak" if w else "usual" for w in weak]),
        ],
    )
    raw = {e.level: e.count / e.number for e in found.effects}
    assert raw["FV0"] > 2 * raw["FV1"]
    assert "FV0" not in [effect.level for effect in found.named]
    assert found.named[0].level in {"weak", "usual"}


def test_level_that_came_with_another_names_it() -> None:
    chance = np.random.default_rng(8)
    lot = chance.random(800) < 0.2
    season = lot | (chance.random(800) < 0.03)
    outcomes = chance.random(800) < np.where(lot, 0.4, 0.06)
    found = regress(
        outcomes=list(outcomes),
        factors=[
            Factor("lot", ["L9" if yes else "others" for yes in lot]),
            Factor("season", ["summer" if yes else "rest" for yes in season]),
        ],
    )
    worst = next(effect for effect in found.effects if effect.level == "L9")
    assert worst.goes_with in ((), ("season: summer",))
    assert "season: summer" in {w for e in found.named for w in e.goes_with}


def test_one_level_is_left_out_and_said() -> None:
    outcomes, factors, _ = invented(3, number=400, spread=0.5)
    found = regress(outcomes=outcomes, factors=[*factors, Factor("site", ["here"] * 400)])
    assert found.left_out == {"site": "site was always the same (here)"}


def test_turnaround_without_a_level_counts_neither_way() -> None:
    """As one whose regime uses no such agent: the effects are those of the others alone."""
    outcomes, factors, _ = invented(9, number=600, spread=0.8)
    lots = [level if n < 400 else None for n, level in enumerate(factors[0].levels)]
    # Those without a level are not clean as often as the others, so they only move the average.
    outcomes = outcomes[:400] + [n % 10 < 10 * sum(outcomes[:400]) / 400 for n in range(200)]
    found = regress(outcomes=outcomes, factors=[Factor("lot", lots)], spread=0.7)
    alone = regress(
        outcomes=outcomes[:400], factors=[Factor("lot", factors[0].levels[:400])], spread=0.7
    )
    assert log_odds_of(found) == pytest.approx(log_odds_of(alone), abs=0.1)
    assert {e.level: e.number for e in found.effects} == {e.level: e.number for e in alone.effects}


def test_two_that_always_change_together_are_not_told_apart() -> None:
    outcomes, factors, _ = invented(3, number=400, spread=0.5)
    twin = Factor("tank", [level.upper() for level in factors[0].levels])
    found = regress(outcomes=outcomes, factors=[factors[0], twin])
    assert list(found.left_out) == ["tank"]
    assert "effects cannot be separated" in found.left_out["tank"]


def test_more_factors_than_the_data_carry_are_left_out_from_the_end() -> None:
    outcomes = [n % 10 == 0 for n in range(170)]  # 17 were not clean: three factors
    factors = [Factor(f"f{k}", [f"{k}{(n // (k + 1)) % 3}" for n in range(170)]) for k in range(5)]
    found = regress(outcomes=outcomes, factors=factors)
    assert list(found.left_out) == ["f3", "f4"]
    assert {effect.factor for effect in found.effects} == {"f0", "f1", "f2"}


def test_seldom_seen_levels_are_taken_together_and_never_named() -> None:
    levels = ["usual"] * 300 + [f"rare {n}" for n in range(60)]
    outcomes = [n % 10 == 0 for n in range(300)] + [n % 2 == 0 for n in range(60)]
    found = regress(outcomes=outcomes, factors=[Factor("vessel", levels)])
    assert {effect.level for effect in found.effects} == {"usual", THE_REST}
    assert [effect.level for effect in found.named] == ["usual"]


def test_level_that_was_never_clean_has_finite_ends() -> None:
    levels = ["FV1"] * 100 + ["FV2"] * 100 + ["FV3"] * 20
    outcomes = [n % 5 == 0 for n in range(200)] + [True] * 20
    found = regress(outcomes=outcomes, factors=[Factor("vessel", levels)])
    worst = found.effects[0]
    assert (worst.level, worst.count, worst.number) == ("FV3", 20, 20)
    assert 1 < worst.low < worst.odds_ratio < worst.high < 10_000


def test_too_wide_an_interval_names_nothing() -> None:
    levels = ["FV1"] * 200 + ["FV2"] * 6
    outcomes = [n % 5 == 0 for n in range(200)] + [True] * 6
    found = regress(outcomes=outcomes, factors=[Factor("vessel", levels)], spread=100)
    assert {effect.wide for effect in found.effects} == {True}
    assert found.named == ()


@pytest.mark.parametrize(
    "count, number, words",
    [
        (6, 80, "Only 6 of 80 were not clean the first time. At least 15"),
        (0, 0, "Only 0 of 0"),
        (79, 80, "Only 1 of 80 were clean the first time"),
    ],
)
def test_too_few_of_either_is_refused(count: int, number: int, words: str) -> None:
    outcomes = [n < count for n in range(number)]
    levels = ["a" if n % 2 else "b" for n in range(number)]
    with pytest.raises(TooFewReadings, match=words):
        regress(outcomes=outcomes, factors=[Factor("vessel", levels)])


def test_nothing_to_tell_apart_is_refused() -> None:
    with pytest.raises(TooFewReadings, match="always the same"):
        regress(
            outcomes=[n % 2 == 0 for n in range(100)], factors=[Factor("vessel", ["FV1"] * 100)]
        )


def test_level_missing_at_a_turnaround_is_refused() -> None:
    with pytest.raises(OutOfRange, match="no level for every turnaround"):
        regress(outcomes=[True] * 40, factors=[Factor("vessel", ["a"] * 39)])


def test_two_thousand_cleans_take_less_than_a_second() -> None:
    shape = {"vessel": 20, "regime": 5, "beer": 10, "lot": 8, "season": 4}
    outcomes, factors, _ = invented(4, number=2000, spread=0.5, shape=shape)
    regress(outcomes=outcomes[:200], factors=[Factor(f.name, f.levels[:200]) for f in factors])
    began = time.perf_counter()
    found = regress(outcomes=outcomes, factors=factors)
    assert time.perf_counter() - began < 1
    assert len(found.effects) == 47

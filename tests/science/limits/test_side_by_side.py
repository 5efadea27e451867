"""Six methods on the same readings: what each gives, when it may be used, and how far it is off."""

import dataclasses
import math
import statistics
import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.limits.asked import Asked
from brewhygiene.science.limits.factors import normal_factor
from brewhygiene.science.limits.sample import Sample, sample_of
from brewhygiene.science.limits.side_by_side import (
    COUNTS,
    LOGNORMAL,
    LOGS,
    METHODS,
    PERCENTILE,
    RAW,
    TOLERANCE,
    Method,
    best_of,
    side_by_side,
)


def drawn(kind: str, n: int, seed: int = 1) -> Sample:
    rng = np.random.default_rng(seed)
    values = {
        "lognormal": lambda: np.rint(rng.lognormal(2.2, 0.6, n)),
        "counts": lambda: rng.negative_binomial(1.5, 0.2, n),
        "zeros": lambda: np.where(rng.random(n) < 0.6, 0, 1 + rng.negative_binomial(1, 0.2, n)),
        "normal": lambda: np.rint(rng.normal(50, 6, n)),
    }[kind]()
    return sample_of([int(value) for value in values])


def by_code(sample: Sample, asked: Asked | None = None) -> dict[str, Method]:
    return {method.code: method for method in side_by_side(sample, asked or Asked())}


@pytest.mark.parametrize("kind", ["lognormal", "counts", "zeros", "normal"])
@pytest.mark.parametrize("n", [10, 20, 30, 60, 120])
def test_every_method_is_shown_with_finite_limits_in_order(kind: str, n: int) -> None:
    methods = side_by_side(drawn(kind, n), Asked())
    assert tuple(method.code for method in methods) == METHODS
    for method in methods:
        levels = [level for level in (method.alert, method.action) if level]
        for level in levels:
            numbers = (level.exact_rlu, level.low_rlu, level.high_rlu)
            assert all(math.isfinite(number) for number in numbers)
            assert level.low_rlu <= level.high_rlu
            assert level.rlu - 1 < level.exact_rlu <= level.rlu + 1e-6
        if len(levels) == 2:
            assert levels[0].rlu <= levels[1].rlu
        assert method.usable == (not method.why_not)
        if len(levels) < 2:
            assert method.why_not


def test_mean_and_k_sd_is_what_it_says() -> None:
    sample = drawn("normal", 30)
    methods = by_code(sample, Asked(alert_k=2, action_k=3))
    mean, sd = statistics.fmean(sample.rlu), statistics.stdev(sample.rlu)
    assert methods[RAW].alert.exact_rlu == pytest.approx(mean + 2 * sd)
    assert methods[RAW].action.exact_rlu == pytest.approx(mean + 3 * sd)
    logs = [math.log10(value + 1) for value in sample.rlu]
    upper = statistics.fmean(logs) + 3 * statistics.stdev(logs)
    assert methods[LOGS].action.exact_rlu == pytest.approx(10**upper - 1)


def test_k_is_exact_where_none_is_given() -> None:
    figures = dict(by_code(drawn("normal", 30))[RAW].figures)
    assert figures["k, action"] == pytest.approx(
        normal_factor(readings=30, coverage=0.99, confidence=0.95)
    )


def test_percentile_is_withheld_below_99_readings_and_says_how_many_more() -> None:
    found = by_code(drawn("counts", 30))[PERCENTILE]
    assert (found.alert is None, found.action) == (False, None)
    assert (found.action_needs.readings, found.action_needs.more) == (99, 69)
    assert found.why_not == "The 99th percentile needs 99 readings, 69 more."


def test_percentile_shows_its_interval_by_ranks_only_where_there_is_one() -> None:
    found = by_code(drawn("counts", 120))[PERCENTILE]
    assert found.alert.rank_low_rlu <= found.alert.exact_rlu <= found.alert.rank_high_rlu
    assert found.action.rank_high_rlu is None
    assert found.cautions == (
        "The action limit has no upper bound, because too few readings lie near it.",
    )


def test_bound_takes_59_and_says_exactly_how_many_more() -> None:
    short, enough = (by_code(drawn("counts", n))[TOLERANCE] for n in (58, 59))
    assert (short.alert, short.alert_needs.more) == (None, 1)
    assert enough.alert.rlu == max(drawn("counts", 59).rlu)
    assert enough.why_not == (
        "A bound for 99 % of clean readings with 95 % confidence needs 299 readings, 240 more."
    )


def test_bound_is_usable_where_asked_for_what_the_readings_carry() -> None:
    asked = Asked(alert_coverage=0.9, action_coverage=0.95)
    found = by_code(drawn("counts", 60), asked)[TOLERANCE]
    assert (found.usable, found.action.rlu) == (True, max(drawn("counts", 60).rlu))
    assert dict(found.figures)["rank from the largest, alert"] == 2


def test_fitted_distributions_take_twenty() -> None:
    methods = by_code(drawn("lognormal", 19))
    for code in (COUNTS, LOGNORMAL):
        assert methods[code].why_not == "A fitted distribution needs 20 readings, 1 more."


def test_lognormal_needs_readings_above_zero() -> None:
    sample = sample_of([0] * 26 + [1, 2, 2, 3])
    found = by_code(sample)[LOGNORMAL]
    assert (found.alert, found.action, found.alert_needs.more) == (None, None, 30)
    assert found.why_not.startswith("Only 4 readings are above 0, or all of those are equal")


@pytest.mark.parametrize(
    "kind, unfit",
    [
        ("lognormal", {RAW, COUNTS}),
        ("counts", {RAW, LOGS, LOGNORMAL}),
        ("zeros", {RAW, LOGS}),
        ("normal", {COUNTS}),
    ],
)
def test_shape_that_does_not_fit_bars_a_method(kind: str, unfit: set[str]) -> None:
    methods = by_code(drawn(kind, 300))
    barred = {code for code, m in methods.items() if m.why_not.startswith("The readings do not")}
    assert unfit <= barred
    right = {"lognormal": LOGNORMAL, "counts": COUNTS, "zeros": TOLERANCE, "normal": RAW}[kind]
    assert methods[right].usable


@pytest.mark.parametrize("kind, code", [("counts", COUNTS), ("lognormal", LOGNORMAL)])
def test_right_shape_is_seldom_rejected(kind: str, code: str) -> None:
    """1 in 100 is what the rule says; of 40, more than 3 would be one chance in 1000."""
    barred = sum(not by_code(drawn(kind, 40, seed))[code].usable for seed in range(100, 140))
    assert barred <= 3


def test_counts_that_vary_by_chance_alone_are_told() -> None:
    rng = np.random.default_rng(4)
    found = by_code(sample_of([int(x) for x in rng.binomial(12, 0.5, 60)]))[COUNTS]
    assert found.cautions[0] == (
        "They vary like random counts, so a Poisson distribution was fitted."
    )


def test_same_readings_give_the_same_intervals() -> None:
    sample = drawn("counts", 60)
    assert side_by_side(sample, Asked()) == side_by_side(sample, Asked())


def test_interval_narrows_as_readings_come_in() -> None:
    widths = []
    for n in (20, 80, 320):
        level = by_code(drawn("lognormal", n))[LOGNORMAL].action
        widths.append(math.log(level.high_rlu / level.low_rlu))
    assert widths == sorted(widths, reverse=True)


def test_all_methods_for_120_readings_take_half_a_second() -> None:
    sample = drawn("counts", 120)
    side_by_side(sample, Asked())  # pays for imports
    begun = time.process_time()
    side_by_side(sample, Asked())
    assert time.process_time() - begun < 0.5


def test_advised_first_is_what_needs_no_distribution() -> None:
    methods = side_by_side(drawn("counts", 300), Asked())
    assert best_of(methods).code == TOLERANCE


def test_advised_next_are_the_logs_where_they_fit() -> None:
    assert best_of(side_by_side(drawn("lognormal", 40), Asked())).code == LOGS


def test_advised_for_counts_is_not_the_logs() -> None:
    assert best_of(side_by_side(drawn("zeros", 80), Asked())).code in (COUNTS, LOGNORMAL)


def test_nothing_usable_is_nothing_advised() -> None:
    methods = side_by_side(drawn("counts", 30), Asked())
    assert best_of(tuple(dataclasses.replace(m, why_not="No.") for m in methods)) is None


RLU = st.one_of(st.integers(0, 3), st.integers(0, 50), st.integers(0, 9_999_999))


@settings(max_examples=40)
@given(st.lists(RLU, min_size=0, max_size=40))
def test_any_readings_give_numbers_or_a_sentence(rlu: list[int]) -> None:
    said = ""
    try:
        sample = sample_of(rlu)
    except (OutOfRange, TooFewReadings) as refusal:
        said = str(refusal)
    if said:
        assert said.endswith(".")
        return
    for method in side_by_side(sample, Asked(), resamples=50):
        assert method.usable or method.why_not.endswith(".")
        for level in (method.alert, method.action):
            if level is not None:
                assert math.isfinite(level.low_rlu + level.high_rlu + level.exact_rlu)
        assert method.goodness is None or 0 < method.goodness.p <= 1

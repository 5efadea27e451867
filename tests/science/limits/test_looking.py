"""What readings look like: bins, straightness, far readings, pooling, drift, effect."""

import numpy as np
import pytest

from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.limits.asked import Asked
from brewhygiene.science.limits.distribution import MOST_BINS, distribution_of
from brewhygiene.science.limits.drift import drift_of
from brewhygiene.science.limits.effect import PastClean, effect_of, without
from brewhygiene.science.limits.groups.pooling import pooling_of
from brewhygiene.science.limits.outliers import far_out
from brewhygiene.science.limits.sample import Sample, log_rlu
from brewhygiene.science.limits.side_by_side import side_by_side


def counts(n: int, seed: int = 1, mean: float = 6) -> list[int]:
    rng = np.random.default_rng(seed)
    return [int(x) for x in rng.negative_binomial(1.5, 1.5 / (1.5 + mean), n)]


@pytest.mark.parametrize("rlu", [counts(60), [*counts(60), 9_999_999], [0] * 40 + [1, 2]])
def test_every_reading_lies_in_one_bin(rlu: list[int]) -> None:
    found = distribution_of(Sample(tuple(rlu)))
    for bins in (found.raw_bins, found.log_bins):
        assert sum(one.count for one in bins) == len(rlu)
        assert len(bins) <= MOST_BINS + 1
    assert all((one.high - one.low) % 1 == 0 for one in found.raw_bins)


def test_zero_share_counts_zeros() -> None:
    found = distribution_of(Sample((0, 0, 0, 1, 5, 2, 3, 1, 4, 8)))
    assert (found.zeros, found.zero_share, found.median_rlu) == (3, 0.3, 1.5)


def test_logs_of_a_lognormal_lie_straighter_than_its_rlu() -> None:
    rng = np.random.default_rng(3)
    rlu = tuple(int(x) for x in np.rint(rng.lognormal(3, 0.8, 80)))
    found = distribution_of(Sample(rlu))
    assert found.logs.correlation > 0.98 > found.raw.correlation
    assert found.logs.p > 0.05 > found.raw.p


def test_enormous_reading_is_named_and_what_it_does_to_limits() -> None:
    rlu = (*counts(59), 250_000)
    sample = Sample(rlu)
    assert far_out(sample) == (59,)
    methods = side_by_side(sample, Asked())
    raw = without(sample, far_out(sample), Asked(), methods=methods)[0]
    have, lack = raw.action_rlu
    assert have > 90_000
    assert lack < 40


def test_two_far_readings_do_not_hide_each_other() -> None:
    rng = np.random.default_rng(5)
    rlu = [int(x) for x in np.rint(rng.lognormal(2, 0.4, 38))]
    assert far_out(Sample((*rlu, 5000, 5200))) == (39, 38)


def test_tail_of_clean_readings_is_seldom_called_far() -> None:
    called = sum(bool(far_out(Sample(tuple(counts(60, seed))))) for seed in range(100))
    assert called <= 4


def test_without_leaves_nothing_where_the_rest_is_alike() -> None:
    sample = Sample((*[0] * 19, 900))
    methods = side_by_side(sample, Asked())
    assert without(sample, far_out(sample), Asked(), methods=methods) == ()


def test_points_that_lie_apart_should_not_be_pooled() -> None:
    found = pooling_of({"cone": counts(20), "arm": counts(20, 2, mean=40)})
    assert (found.answer, found.highest.name, found.lowest.name) == ("should_not", "arm", "cone")
    assert found.level_p < 0.001


def test_points_that_vary_unlike_should_not_be_pooled() -> None:
    even, wild = [9, 10, 11] * 12, [0, 10, 99] * 12
    found = pooling_of({"even": even, "wild": wild})
    assert (found.answer, found.level_p > 0.05, found.spread_p < 0.001) == (
        "should_not",
        True,
        True,
    )


def test_points_alike_may_be_pooled_and_few_readings_are_left_out() -> None:
    found = pooling_of({"a": counts(30, 1), "b": counts(30, 2), "c": [3, 4]})
    assert (found.answer, found.left_out) == ("may", ("c",))


def test_one_point_and_few_readings_answer_so() -> None:
    assert pooling_of({"a": counts(20)}).answer == "one"
    assert pooling_of({"a": counts(20), "b": [1, 2, 3]}).answer == "few"


@pytest.mark.parametrize(
    "groups, answer",
    [
        ({"a": [0] * 8, "b": [0] * 8}, "may"),
        ({"a": [0] * 8, "b": [5] * 8}, "should_not"),
        ({"a": [0, 4] * 4, "b": [2] * 8}, "should_not"),
    ],
)
def test_pooling_stands_readings_without_spread(groups: dict[str, list[int]], answer: str) -> None:
    assert pooling_of(groups).answer == answer


def test_pooling_of_nothing_is_refused() -> None:
    with pytest.raises(OutOfRange):
        pooling_of({})


def steady(n: int = 40, seed: int = 6) -> list[float]:
    return [log_rlu(x) for x in counts(n, seed)]


def test_steady_readings_did_not_move() -> None:
    found = drift_of(days=range(40), logs=steady())
    assert (found.moved, found.in_spells) == (False, False)
    assert found.factor_low < 1 < found.factor_high


def test_rise_is_found_with_its_factor_in_any_order_given() -> None:
    logs = [value + day * 0.02 for day, value in enumerate(steady())]
    pairs = list(zip(range(40), logs, strict=True))
    forth, back = (
        drift_of(days=[day for day, _ in order], logs=[value for _, value in order])
        for order in (pairs, pairs[::-1])
    )
    assert (forth.moved, forth) == (True, back)
    assert forth.factor_low < 10**0.6 < forth.factor_high


def test_spells_are_found() -> None:
    logs = [value + (0.8 if 10 <= day < 30 else 0) for day, value in enumerate(steady())]
    found = drift_of(days=range(40), logs=logs)
    assert (found.moved, found.in_spells) == (False, True)
    assert found.longest_run >= 8


def test_drift_is_refused_where_nothing_can_show_it() -> None:
    with pytest.raises(TooFewReadings):
        drift_of(days=range(9), logs=steady(9))
    with pytest.raises(OutOfRange):
        drift_of(days=[1] * 12, logs=steady(12))
    with pytest.raises(OutOfRange):
        drift_of(days=range(12), logs=[0.5] * 12)


def test_mostly_zeros_have_no_runs_to_test() -> None:
    found = drift_of(days=range(20), logs=[0.0] * 17 + [0.3, 0.5, 0.3])
    assert found.runs_p is None


def test_effect_counts_each_side_of_the_limits() -> None:
    high = [PastClean(10, True), PastClean(11, False), PastClean(30, True), PastClean(31, True)]
    found = effect_of(alert_rlu=10, action_rlu=30, cleans=50, positive=5, high=high)
    assert (found.alert, found.alert_positive) == (2, 1)
    assert (found.action, found.action_positive) == (1, 1)
    assert found.clear_positive == 3

"""A phase judged by its baseline: limits, signals, when the change began, and refusals."""

import random

import pytest

from brewhygiene.science.control.individuals import individuals, phase_one
from brewhygiene.science.control.judging import judge_phase, least_sigma_of_counts
from brewhygiene.science.errors import OutOfRange, TooFewReadings


def steady(n: int, *, seed: int = 3, mean: float = 0.5, sd: float = 0.1) -> list[float]:
    chance = random.Random(seed)
    return [chance.gauss(mean, sd) for _ in range(n)]


def test_shift_is_found_and_dated() -> None:
    values = [*steady(40), *(value + 0.25 for value in steady(8, seed=4))]
    phase = judge_phase(values)
    assert phase.judged_from == 20
    now = {signal.rule: signal for signal in phase.signalling}
    assert set(now) >= {"ewma", "cusum"}
    assert all(signal.direction == "up" for signal in now.values())
    assert abs(now["cusum"].since - 40) <= 3
    assert 40 < now["cusum"].found <= 45
    assert phase.evidence > 1


def test_fall_is_a_signal_but_no_evidence_of_getting_worse() -> None:
    phase = judge_phase([*steady(30), *(value - 0.3 for value in steady(10, seed=4))])
    assert {signal.direction for signal in phase.signalling} == {"down"}
    assert phase.evidence < 0.2


def test_one_enormous_reading_is_a_reading_and_no_trend() -> None:
    phase = judge_phase([*steady(30), 4.0, *steady(3, seed=5)])
    assert [
        (signal.rule, signal.since) for signal in phase.signals if signal.direction == "up"
    ] == [("beyond_3", 30)]


def test_enormous_reading_in_the_baseline_is_set_aside() -> None:
    values = steady(20)
    values[7] = 4.0
    found = phase_one(values)
    assert found.set_aside == (7,)
    assert found.centre == pytest.approx(sum(values) / 20 - 4 / 20, abs=0.05)


def test_no_more_than_a_fifth_is_set_aside() -> None:
    values = [*steady(16), *(3 + value for value in steady(4, seed=8)), 5.0]
    assert len(phase_one(values).set_aside) <= 4


def test_signal_goes_away_after_the_cause() -> None:
    bad = [value + 0.5 for value in steady(25, seed=5)]
    phase = judge_phase([*steady(30), *bad, *steady(15, seed=6)])
    assert phase.signalling == ()
    assert {signal.rule for signal in phase.signals} >= {"ewma", "cusum"}


@pytest.mark.parametrize(
    "values, message",
    [
        ([], "0 readings so far. Limits need 12, 12 more."),
        ([0.3, 0.7], "2 readings so far. Limits need 12, 10 more."),
        (steady(11), "11 readings so far. Limits need 12, 1 more."),
        (
            [0.0] * 30,
            (
                "All 20 readings are equal, so their variation is unknown. Limits appear once "
                "readings differ."
            ),
        ),
    ],
)
def test_too_little_is_refused_in_words(values: list[float], message: str) -> None:
    with pytest.raises(TooFewReadings) as refused:
        judge_phase(values)
    assert str(refused.value) == message


def test_short_stated_baseline_is_refused() -> None:
    with pytest.raises(TooFewReadings, match="The stated baseline has 5 readings"):
        judge_phase(steady(30), baseline=5)


def test_limits_are_for_the_time_being_until_the_baseline_is_full() -> None:
    phase = judge_phase(steady(14))
    assert (phase.provisional, phase.judged, phase.signals, phase.evidence) == (True, 0, (), 0)
    assert not judge_phase(steady(20)).provisional


def test_left_out_readings_do_not_make_limits() -> None:
    values = steady(25)
    values[3] = 0.9
    without = judge_phase(values, left_out=[3]).limits
    assert without.used + len(without.set_aside) == 19


def test_ranges_mostly_zero_fall_back_to_the_sd() -> None:
    values = [0.0] * 9 + [0.3] + [0.0] * 9 + [0.48]
    found = individuals(values)
    assert not found.by_ranges
    assert found.why.startswith("16 of 19 moving ranges are 0")
    assert found.sigma == pytest.approx(0.1250, abs=0.002)


def test_spread_is_not_believed_below_rounding() -> None:
    found = individuals([0.5, 0.5001] * 10, least_sigma=least_sigma_of_counts([0.5]))
    assert found.sigma == pytest.approx(least_sigma_of_counts([0.5]))
    assert "rounding" in found.why


def test_value_that_is_no_number_is_refused() -> None:
    with pytest.raises(OutOfRange, match="is not a number"):
        individuals([0.1, float("nan"), 0.2])


def test_baseline_that_drifts_is_told() -> None:
    drifting = [*steady(10), *(value + 0.35 for value in steady(10, seed=4))]
    assert judge_phase(drifting).unsteady
    assert not judge_phase(steady(20)).unsteady
    assert sum(judge_phase(steady(20, seed=seed)).unsteady for seed in range(300)) <= 6

"""Limits carried over by pairs, and every reason not to."""

from typing import Any

import numpy as np
import pytest

from brewhygiene.science.agreement.bridging import (
    BridgedLimits,
    NoBridge,
    bridged_limits,
    fit_bridge,
)
from brewhygiene.science.errors import OutOfRange

Pairs = tuple[list[int], list[int]]


def made(
    *, pairs: int = 40, factor: float = 0.7, noise: float = 0.08, spread: float = 0.6, seed: int = 1
) -> Pairs:
    """Invented pairs: levels spread lognormally, both swabs straying by ``noise`` (log10)."""
    rng = np.random.default_rng(seed)
    level = 10 ** rng.normal(1.2, spread, pairs)
    reference = np.round(level * 10 ** rng.normal(0, noise, pairs)).astype(int)
    new = np.round(factor * level * 10 ** rng.normal(0, noise, pairs)).astype(int)
    return reference.tolist(), new.tolist()


def carried(pairs: Pairs, *, alert: int = 10, action: int = 30) -> BridgedLimits:
    fit = fit_bridge(reference_rlu=pairs[0], new_rlu=pairs[1])
    return bridged_limits(fit=fit, alert_rlu=alert, action_rlu=action)


def refused(pairs: Pairs, **limits: Any) -> NoBridge:
    with pytest.raises(NoBridge) as caught:
        carried(pairs, **limits)
    assert "nan" not in str(caught.value)
    assert "inf" not in str(caught.value)
    return caught.value


def test_limits_of_a_meter_that_reads_seven_tenths_follow_it() -> None:
    found = carried(made())
    assert found.action.low_rlu < 21 < found.action.high_rlu
    assert found.alert.low_rlu < 7 < found.alert.high_rlu
    assert found.alert.whole_rlu <= found.alert.rlu < found.alert.whole_rlu + 1
    assert found.action.careful_rlu <= found.action.low_rlu
    assert found.action.one_low_rlu < found.action.low_rlu
    assert found.action.high_rlu < found.action.one_high_rlu
    assert found.fit.pairs == 40


@pytest.mark.parametrize("factor", [0.5, 1.0, 3.0])
@pytest.mark.parametrize("pairs", [20, 40])
def test_interval_holds_what_is_true_about_19_times_in_20(factor: float, pairs: int) -> None:
    """In 300 invented studies each; the interval's nominal coverage is 95 %."""
    held = shown = 0
    for seed in range(300):
        try:
            found = carried(made(pairs=pairs, factor=factor, seed=seed))
        except NoBridge:
            continue
        shown += 1
        held += found.action.low_rlu <= 30 * factor <= found.action.high_rlu
    assert shown > 200
    assert 0.89 <= held / shown <= 0.99


def test_pairs_that_agree_to_the_last_digit_give_the_same_limits() -> None:
    same = made()[0]
    found = carried((same, same))
    assert (found.alert.whole_rlu, found.action.whole_rlu) == (10, 30)
    assert found.action.high_rlu == pytest.approx(30)


@pytest.mark.parametrize("count, more", [(0, 20), (1, 19), (2, 18), (19, 1)])
def test_too_few_pairs_are_refused_with_how_many_more(count: int, more: int) -> None:
    reference, new = made()
    refusal = refused((reference[:count], new[:count]))
    assert (refusal.code, refusal.more) == ("too_few", more)
    assert f"{more} more" in str(refusal)


def test_all_zeros_are_refused() -> None:
    reference, _ = made()
    refusal = refused((reference, [0] * 40))
    assert refusal.code == "all_zero"
    assert str(refusal).startswith("Every reading of the new scale is 0 RLU")


def test_all_equal_is_refused() -> None:
    _, new = made()
    refusal = refused(([7] * 40, new))
    assert refusal.code == "all_equal"
    assert str(refusal).startswith("Every reading of the reference scale is 7 RLU.")


def test_mostly_zeros_are_refused_with_how_many_more() -> None:
    refusal = refused(([0] * 34 + [4, 9, 16, 25, 36, 49], [0] * 34 + [3, 8, 15, 25, 35, 50]))
    assert (refusal.code, refusal.more) == ("mostly_zero", 4)


def test_one_enormous_outlier_is_named() -> None:
    reference, new = made()
    reference[17], new[17] = 12, 9_000_000
    refusal = refused((reference, new))
    assert (refusal.code, refusal.pair) == ("outlier", 17)
    assert "12 and 9000000 RLU" in str(refusal)


def test_one_enormous_pair_that_fits_the_others_moves_little() -> None:
    reference, new = made()
    without = carried((reference, new)).action.rlu
    reference[17], new[17] = 9_999_999, 9_999_999
    assert carried((reference, new)).action.rlu == pytest.approx(without, rel=0.05)


def test_scales_that_have_nothing_to_do_with_each_other_are_refused() -> None:
    reference, _ = made(seed=3)
    _, new = made(seed=4)
    assert refused((reference, new)).code in {"not_together", "slope", "one_pair_decides"}


def test_scales_that_fall_against_each_other_are_refused() -> None:
    reference = sorted(made()[0])
    assert refused((reference, reference[::-1])).code == "not_together"


def test_a_meter_that_saturates_is_refused_as_bent() -> None:
    reference, new = made(pairs=100, noise=0.04)
    refusal = refused((reference, [round(20 * value / (20 + value)) for value in new]))
    assert refusal.code == "not_linear"
    assert "bend" in str(refusal)


def test_a_factor_that_bends_near_zero_is_fitted_above_it() -> None:
    found = carried(made(pairs=80, factor=0.4, noise=0.04, spread=0.8))
    assert found.fit.floor_rlu > 0
    assert found.fit.pairs < 80
    assert found.action.low_rlu < 12 < found.action.high_rlu


@pytest.mark.parametrize(
    "limits, words",
    [
        ({"alert": 10, "action": 5_000}, "Only 0 of the pairs read the action limit of 5000 RLU"),
        ({"alert": 0, "action": 30}, "alert level of 0 RLU"),
    ],
)
def test_pairs_that_do_not_reach_beyond_the_limits_are_refused(
    limits: dict[str, int], words: str
) -> None:
    refusal = refused(made(), **limits)
    assert refusal.code == "range"
    assert words in str(refusal)


def test_too_wide_an_interval_is_refused_with_how_many_more() -> None:
    codes = {}
    for seed in range(40):
        try:
            carried(made(pairs=20, noise=0.25, seed=seed))
        except NoBridge as refusal:
            codes[refusal.code] = refusal
    assert codes["too_wide"].more is not None
    assert codes["too_wide"].more > 0
    assert f"About {codes['too_wide'].more} more pairs" in str(codes["too_wide"])


def test_alert_above_action_is_refused() -> None:
    fit = fit_bridge(reference_rlu=made()[0], new_rlu=made()[1])
    with pytest.raises(OutOfRange, match=r"action limit is 10 RLU\. It must be at least 30 RLU"):
        bridged_limits(fit=fit, alert_rlu=30, action_rlu=10)


def test_below_zero_is_refused() -> None:
    reference, new = made()
    with pytest.raises(OutOfRange, match="reading is -1 RLU"):
        fit_bridge(reference_rlu=[-1, *reference[1:]], new_rlu=new)

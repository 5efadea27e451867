"""Lethality over a logged temperature."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from brewhygiene.science.errors import OutOfRange, TooFewReadings
from brewhygiene.science.tank.lethality import (
    A0,
    PASTEURISATION,
    Gap,
    LethalityTally,
    Reference,
    f_reference,
    held,
    lethal_rate,
    lethality,
)

STEPS = st.lists(st.floats(0.1, 50), min_size=2, max_size=30)


@st.composite
def traces(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    seconds = np.cumsum(draw(STEPS))
    celsius = st.floats(10, 95)
    return seconds, np.array(draw(st.lists(celsius, min_size=len(seconds), max_size=len(seconds))))


@given(trace=traces(), reference=st.sampled_from([PASTEURISATION, A0]))
def test_closed_form_is_the_integral(trace: tuple, reference: Reference) -> None:
    seconds, celsius = trace

    def rate(second: float) -> float:
        return lethal_rate(
            temperature_c=float(np.interp(second, seconds, celsius)), reference=reference
        )

    total = sum(
        quad(rate, start, end, epsrel=1e-10)[0] for start, end in itertools.pairwise(seconds)
    )
    ours = lethality(seconds=seconds, temperatures_c=celsius, reference=reference)
    assert ours.value == pytest.approx(total / reference.unit_s, rel=1e-8, abs=1e-15)


@given(trace=traces(), share=st.floats(0, 1))
def test_a_reading_on_the_line_changes_nothing(trace: tuple, share: float) -> None:
    seconds, celsius = trace
    between = seconds[0] + share * (seconds[-1] - seconds[0])
    more = np.sort(np.append(seconds, between))
    finer = lethality(seconds=more, temperatures_c=np.interp(more, seconds, celsius))
    assert finer.value == pytest.approx(
        lethality(seconds=seconds, temperatures_c=celsius).value, rel=1e-9, abs=1e-15
    )


@given(trace=traces(), cuts=st.lists(st.integers(0, 30), max_size=5))
def test_parts_add_up_to_the_whole(trace: tuple, cuts: list[int]) -> None:
    seconds, celsius = trace
    tally = LethalityTally()
    edges = [0, *sorted(min(cut, len(seconds)) for cut in cuts), len(seconds)]
    for start, end in itertools.pairwise(edges):
        tally.add(seconds[start:end], celsius[start:end])
    parted, whole = tally.result(), lethality(seconds=seconds, temperatures_c=celsius)
    assert parted.value == pytest.approx(whole.value, rel=1e-12)
    assert (parted.counted_s, parted.hottest_c, parted.readings) == pytest.approx(
        (whole.counted_s, whole.hottest_c, whole.readings)
    )


@given(trace=traces(), warmer=st.floats(0.01, 5))
def test_hotter_is_more_lethal(trace: tuple, warmer: float) -> None:
    seconds, celsius = trace
    cool = lethality(seconds=seconds, temperatures_c=celsius)
    assert lethality(seconds=seconds, temperatures_c=celsius + warmer).value > cool.value
    # A shift of the whole trace is one factor.
    shifted = lethality(seconds=seconds, temperatures_c=celsius + warmer)
    assert shifted.value == pytest.approx(cool.value * 1.393**warmer)


def test_mean_temperature_would_be_far_off() -> None:
    seconds = np.array([0.0, 600.0, 1200.0])
    ours = lethality(
        seconds=seconds, temperatures_c=np.array([20.0, 80.0, 20.0]), max_gap_s=600
    ).value
    assert ours > 10 * held(minutes=20, temperature_c=50)


def test_gap_is_not_bridged_but_reported() -> None:
    seconds = np.array([0.0, 30.0, 60.0, 400.0, 430.0])
    found = lethality(seconds=seconds, temperatures_c=np.full(5, 80.0), max_gap_s=60)
    assert found.value == pytest.approx(held(minutes=1.5, temperature_c=80))
    assert found.gaps == (Gap(60, 400),)
    assert (found.gap_count, found.not_bridged_s, found.longest_gap_s) == (1, 340, 340)
    assert found.counted_s == 90


def test_missing_readings_are_bridged_only_within_the_longest_gap() -> None:
    seconds = np.arange(0.0, 300.0, 30)
    celsius = np.full(10, 80.0)
    celsius[2] = np.nan
    assert lethality(seconds=seconds, temperatures_c=celsius).counted_s == 270
    celsius[2:5] = np.nan
    assert lethality(seconds=seconds, temperatures_c=celsius).counted_s == 270 - 120


@pytest.mark.parametrize("count, word", [(0, "0"), (1, "1")])
def test_fewer_than_two_temperatures_are_refused(count: int, word: str) -> None:
    with pytest.raises(TooFewReadings, match=f"at least two temperatures. Entered: {word}."):
        lethality(seconds=np.arange(float(count)), temperatures_c=np.full(count, 80.0))


def test_times_that_go_backwards_are_refused() -> None:
    with pytest.raises(ValueError, match="10 s comes after 20 s"):
        lethality(seconds=np.array([0.0, 20.0, 10.0]), temperatures_c=np.full(3, 80.0))


def test_temperature_of_a_broken_sensor_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"850 °C\. It must be from -50 to 250 °C"):
        lethality(seconds=np.array([0.0, 1.0]), temperatures_c=np.array([80.0, 850.0]))


def test_f_of_another_organism() -> None:
    reference = f_reference(reference_c=70, z_k=7.5)
    assert reference.z_k == pytest.approx(7.5)
    assert held(minutes=1, temperature_c=77.5, reference=reference) == pytest.approx(10)
    with pytest.raises(OutOfRange, match="It must be from 2 to 50 K"):
        f_reference(reference_c=70, z_k=0)

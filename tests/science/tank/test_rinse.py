"""Rinses: pushed out, stirred down, in bursts."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.tank.flow import Section
from brewhygiene.science.tank.rinse import (
    burst_rinse,
    bursts_for_reduction,
    plug_rinse,
    stirred_fraction_left,
    stirred_rinse,
    stirred_volumes,
)


@given(reduction=st.floats(1, 1e6))
def test_volumes_and_what_is_left_are_each_others_inverse(reduction: float) -> None:
    left = stirred_fraction_left(volumes=stirred_volumes(reduction=reduction))
    assert left * reduction == pytest.approx(1)


def test_many_small_bursts_come_to_a_stirred_rinse() -> None:
    """A burst that is nearly nothing, drained each time, is a flow through a mixed residue."""
    many = burst_rinse(residual_l=10, burst_l=0.1, bursts=100)
    assert many.fraction_left == pytest.approx(stirred_fraction_left(volumes=1.0), rel=0.01)


@given(residual=st.floats(1, 100), burst=st.floats(10, 500), reduction=st.floats(1, 1e4))
def test_bursts_are_the_fewest_that_do(residual: float, burst: float, reduction: float) -> None:
    bursts = bursts_for_reduction(residual_l=residual, burst_l=burst, reduction=reduction)
    done = burst_rinse(residual_l=residual, burst_l=burst, bursts=bursts)
    assert done.reduction >= reduction * (1 - 1e-9)
    if bursts > 1:
        fewer = burst_rinse(residual_l=residual, burst_l=burst, bursts=bursts - 1)
        assert fewer.reduction < reduction


def test_reduction_of_exactly_three_bursts_takes_three() -> None:
    assert bursts_for_reduction(residual_l=10, burst_l=90, reduction=1000) == 3


def test_more_than_a_hundred_bursts_are_refused() -> None:
    with pytest.raises(OutOfRange, match="It must be at most 100"):
        bursts_for_reduction(residual_l=100, burst_l=1, reduction=1000)


def test_line_of_several_bores_is_added_up() -> None:
    one, other = Section(50, 10), Section(65, 4)
    both = plug_rinse(sections=[one, other], flow_l_min=100)
    apart = [plug_rinse(sections=[each], flow_l_min=100).water_l for each in (one, other)]
    assert both.water_l == pytest.approx(sum(apart))
    assert both.time_s == pytest.approx(both.water_l / 100 * 60)


def test_stirred_takes_arrays() -> None:
    assert stirred_volumes(reduction=np.array([1.0, np.e])).tolist() == pytest.approx([0, 1])
    assert stirred_rinse(volume_l=100, flow_l_min=10, reduction=np.e).time_min == pytest.approx(10)


@pytest.mark.parametrize(
    "call",
    [
        lambda: stirred_volumes(reduction=0.5),
        lambda: stirred_fraction_left(volumes=-1.0),
        lambda: plug_rinse(sections=[Section(50, 10)], flow_l_min=0),
        lambda: plug_rinse(sections=[Section(50, 10)], flow_l_min=10, margin=0.5),
        lambda: burst_rinse(residual_l=0, burst_l=10, bursts=1),
        lambda: burst_rinse(residual_l=1, burst_l=10, bursts=0),
        lambda: stirred_rinse(volume_l=0, flow_l_min=1, reduction=10),
    ],
)
def test_rinse_outside_its_range_is_refused(call) -> None:
    with pytest.raises(OutOfRange):
        call()


def test_line_without_a_length_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one length"):
        plug_rinse(sections=[], flow_l_min=10)

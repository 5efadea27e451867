"""Rinses against worked examples: pushed out, stirred down, in bursts.

Provenance of a number: read (seen in the source named or a copy of it), memory (recalled),
computed (worked out from numbers that were read).
"""

from collections.abc import Callable

import pytest

from brewhygiene.science.tank.flow import Section, flow_for_velocity_l_min
from brewhygiene.science.tank.rinse import (
    burst_rinse,
    plug_rinse,
    stirred_fraction_left,
    stirred_volumes,
)

Published = Callable[..., None]

MIXTURE = "200 gal with 25 lb, 10 gal/min of water: a textbook's mixture problem (read; answer 25 exp(-t/20) computed)"  # noqa: E501
VOLUMES = "ln(c0/c) of an ideally mixed tank (computed)"
BURSTS = "c = c0 (r/(r+R))^n (computed)"
PLUG = "V / Q with 1.3 volumes (computed)"


@pytest.mark.parametrize("minutes, pounds", [(0, 25.0), (20, 9.19699), (60, 1.24468)])
def test_stirred_tank(published: Published, minutes: float, pounds: float) -> None:
    ours = 25 * stirred_fraction_left(volumes=minutes * 10 / 200)
    published(f"left after {minutes} min, lb", ours, pounds, MIXTURE, 5e-6)


@pytest.mark.parametrize("fold, volumes", [(10, 2.30259), (100, 4.60517), (1000, 6.90776)])
def test_volumes_for_a_reduction(published: Published, fold: float, volumes: float) -> None:
    published(f"volumes for {fold}-fold", stirred_volumes(reduction=fold), volumes, VOLUMES, 5e-6)


def test_bursts(published: Published) -> None:
    rinse = burst_rinse(residual_l=10, burst_l=100, bursts=3)
    published("left after three bursts", rinse.fraction_left, 0.000751315, BURSTS, 5e-10)
    published("water of three bursts, L", rinse.water_l, 300, BURSTS)


def test_line_pushed_out(published: Published) -> None:
    line = Section(bore_mm=50, length_m=60)
    rinse = plug_rinse(sections=[line], flow_l_min=flow_for_velocity_l_min(bore_mm=50.0))
    published("volume of 60 m, L", rinse.volume_l, 117.81, PLUG, 5e-4)
    published("one volume at 1.5 m/s, s", rinse.volume_s, 40.0, PLUG, 4e-5)
    published("water with margin, L", rinse.water_l, 153.153, PLUG, 5e-4)

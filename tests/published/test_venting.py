"""Purging a tank of carbon dioxide.

e^-5 = 0.0067379 and ln 100 = 4.60517 (tables of natural logarithms); the mixed volume that they are
used for is a mass balance. Five volumes and 1 % are common practice, no source.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.tank.tank_gas import purge_volumes
from brewhygiene.science.tank.venting import (
    air_through_m3,
    minutes_to_purge,
    purged,
    share_left,
)


def test_five_volumes_leave_less_than_one_percent() -> None:
    assert share_left(5) == pytest.approx(0.0067379, abs=1e-7)
    assert share_left(4.60517) == pytest.approx(0.01, abs=1e-7)
    assert share_left(0) == 1


@given(st.floats(0, 20))
def test_what_is_left_and_the_volumes_for_it_are_one_law(volumes: float) -> None:
    found = purge_volumes(co2_fraction=1.0, target_fraction=share_left(volumes))
    assert found == pytest.approx(volumes, abs=1e-9)


@pytest.mark.parametrize(
    ("volume_hl", "air_m3_h", "minutes"),
    # 5 x V / Q by hand: 5 x 6 / 180 h, 5 x 3 / 60 h, 5 x 0.05 / 5 h.
    [(60, 180, 10), (30, 60, 15), (0.5, 5, 3)],
)
def test_minutes_worked_by_hand(volume_hl: float, air_m3_h: float, minutes: float) -> None:
    assert minutes_to_purge(volume_hl=volume_hl, air_m3_h=air_m3_h) == pytest.approx(minutes)


@given(st.floats(0.1, 1000), st.floats(1, 5000))
def test_at_its_minutes_a_tank_is_purged_and_a_minute_in_ten_before_it_is_not(
    volume_hl: float, air_m3_h: float
) -> None:
    seconds = 60 * minutes_to_purge(volume_hl=volume_hl, air_m3_h=air_m3_h)
    for share, says in ((1, "met"), (0.9, "not_met")):
        air = air_through_m3([(0, air_m3_h)], until_s=share * seconds)
        assert purged(volume_hl=volume_hl, air_m3=air, co2_pct=None).says == says


@pytest.mark.parametrize(
    ("readings", "until_s", "air_m3"),
    [
        ([], 600, 0),
        ([(0, 60)], 600, 10),
        ([(300, 60)], 600, 5),  # nothing counts before its flow was read
        ([(0, 60), (600, 30)], 1800, 20),
        ([(0, 60), (600, 0)], 1800, 10),  # the fan stopped
        ([(900, 60)], 600, 0),
        ([(0, 60), (900, 60)], 600, 10),
    ],
)
def test_air_driven_through(
    readings: list[tuple[float, float]], until_s: float, air_m3: float
) -> None:
    assert air_through_m3(readings, until_s=until_s) == pytest.approx(air_m3)


@pytest.mark.parametrize(
    ("air_m3", "co2_pct", "says"),
    [
        (None, None, "not_met"),
        (None, 1.0, "met"),
        (None, 1.01, "not_met"),
        (30.0, None, "met"),
        (29.99, None, "not_met"),
        # What was read at the outlet counts, whatever the fan should have done.
        (60.0, 4.0, "not_met"),
        (0.0, 0.4, "met"),
    ],
)
def test_a_tank_of_60_hl_is_purged_by_its_reading_or_by_30_m3(
    air_m3: float | None, co2_pct: float | None, says: str
) -> None:
    assert purged(volume_hl=60, air_m3=air_m3, co2_pct=co2_pct).says == says


def test_why_it_is_not_purged() -> None:
    found = purged(volume_hl=60, air_m3=12, co2_pct=None)
    assert found.why == ("2 of 5 tank volumes of air so far, which leaves 13.5 % CO2 when mixed")
    assert purged(volume_hl=60, air_m3=12, co2_pct=4).why == "above 1 % CO2 at the bottom outlet"


def test_what_cannot_be_is_refused() -> None:
    for call in (
        lambda: share_left(-1),
        lambda: minutes_to_purge(volume_hl=0, air_m3_h=60),
        lambda: minutes_to_purge(volume_hl=60, air_m3_h=0),
        lambda: purged(volume_hl=0, air_m3=1, co2_pct=None),
    ):
        with pytest.raises(OutOfRange):
            call()

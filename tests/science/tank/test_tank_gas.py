"""Carbon dioxide in a tank, the caustic that it takes, and the purge."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.tank.tank_gas import (
    CARBONATE_G_MOL,
    CAUSTIC_G_MOL,
    CO2_G_MOL,
    caustic_for_co2_kg,
    caustic_loss,
    co2_in_headspace_kg,
    pressure_abs_mbar,
    purge,
    purge_volumes,
)

WATER_G_MOL = 18.0153


@pytest.mark.parametrize("celsius", [0, 20, 60])
@pytest.mark.parametrize("mbar", [1013.25, 2000, 4000])
def test_ideal_gas_is_within_three_percent_of_the_real_one(celsius: float, mbar: float) -> None:
    ours = co2_in_headspace_kg(
        volume_hl=10, temperature_c=celsius, pressure_abs_mbar=mbar, co2_fraction=1
    )
    real = PropsSI("D", "T", celsius + 273.15, "P", mbar * 100, "CO2")
    assert 0 <= real / ours - 1 < 0.03


def test_gas_takes_numbers_and_arrays_alike() -> None:
    volumes = np.array([10.0, 30.0])
    each = [
        co2_in_headspace_kg(
            volume_hl=float(volume), temperature_c=20.0, pressure_abs_mbar=1013.25,
            co2_fraction=0.5, saturated=True,
        )
        for volume in volumes
    ]  # fmt: skip
    together = co2_in_headspace_kg(
        volume_hl=volumes, temperature_c=np.array([20.0, 20.0]),
        pressure_abs_mbar=np.array([1013.25, 1013.25]), co2_fraction=np.array([0.5, 0.5]),
        saturated=True,
    )  # fmt: skip
    assert together.tolist() == pytest.approx(each)


def test_wet_gas_holds_less_by_the_vapour() -> None:
    dry, wet = (
        co2_in_headspace_kg(
            volume_hl=10, temperature_c=60, pressure_abs_mbar=1013.25, co2_fraction=1,
            saturated=saturated,
        )
        for saturated in (False, True)
    )  # fmt: skip
    assert wet / dry == pytest.approx(1 - 199.464 / 1013.25, rel=1e-4)


def test_gas_that_is_all_vapour_is_refused() -> None:
    with pytest.raises(OutOfRange, match="beside water's vapour"):
        co2_in_headspace_kg(
            volume_hl=10, temperature_c=90, pressure_abs_mbar=500, co2_fraction=1, saturated=True
        )


@pytest.mark.parametrize(
    "change",
    [
        {"volume_hl": -1},
        {"temperature_c": 101},
        {"pressure_abs_mbar": 0},
        {"pressure_abs_mbar": 5001},
        {"co2_fraction": 1.01},
        {"co2_fraction": float("nan")},
    ],
)
def test_gas_outside_its_range_is_refused_with_the_value(change: dict[str, float]) -> None:
    asked = {
        "volume_hl": 10.0, "temperature_c": 20.0, "pressure_abs_mbar": 1013.25, "co2_fraction": 0.5
    }  # fmt: skip
    with pytest.raises(OutOfRange) as refused:
        co2_in_headspace_kg(**(asked | change))
    value = next(iter(change.values()))
    assert refused.value.value == value or np.isnan(value)


def test_gauge_pressure_becomes_absolute() -> None:
    assert pressure_abs_mbar(gauge_mbar=500.0, atmosphere_mbar=1000.0) == 1500.0


@given(
    gas_kg=st.floats(0, 50),
    solution_kg=st.floats(1, 5000),
    strength_ww=st.floats(0, 50),
    caustic=st.sampled_from(["NaOH", "KOH"]),
)
def test_carbon_and_mass_are_kept(
    gas_kg: float, solution_kg: float, strength_ww: float, caustic: str
) -> None:
    loss = caustic_loss(
        co2_kg=gas_kg, solution_kg=solution_kg, strength_ww=strength_ww, caustic=caustic
    )
    in_carbonate_kg = loss.carbonate_formed_kg * CO2_G_MOL / CARBONATE_G_MOL[caustic]
    assert in_carbonate_kg == pytest.approx(loss.co2_taken_up_kg)
    assert loss.co2_taken_up_kg <= gas_kg * (1 + 1e-9)
    # 2 NaOH + CO2 → Na2CO3 + H2O: what goes in comes out.
    water_kg = loss.co2_taken_up_kg * WATER_G_MOL / CO2_G_MOL
    goes_in_kg = loss.caustic_consumed_kg + loss.co2_taken_up_kg
    assert loss.carbonate_formed_kg + water_kg == pytest.approx(goes_in_kg, rel=1e-4)
    assert loss.caustic_left_kg + loss.caustic_consumed_kg == pytest.approx(loss.caustic_before_kg)
    assert loss.caustic_consumed_kg + loss.caustic_short_kg == pytest.approx(
        caustic_for_co2_kg(co2_kg=gas_kg, caustic=caustic)
    )
    assert 0 <= loss.strength_left_ww <= strength_ww * (1 + 1e-9)


def test_more_gas_than_caustic_is_said() -> None:
    loss = caustic_loss(co2_kg=10, solution_kg=100, strength_ww=2)
    assert (loss.exhausted, loss.strength_left_ww) == (True, 0)
    assert loss.caustic_short_kg == pytest.approx(10 * 2 * CAUSTIC_G_MOL["NaOH"] / CO2_G_MOL - 2)


def test_working_ends_with_the_results() -> None:
    loss = caustic_loss(co2_kg=1, solution_kg=1000, strength_ww=2)
    by_label = {line.label: line.value for line in loss.working}
    assert by_label["strength left"] == loss.strength_left_ww
    assert by_label["NaOH left"] == loss.caustic_left_kg


@given(before=st.floats(0.001, 1), target=st.floats(0.001, 1))
def test_purge_brings_down_to_the_target(before: float, target: float) -> None:
    volumes = purge_volumes(co2_fraction=before, target_fraction=target)
    assert before * np.exp(-volumes) == pytest.approx(min(before, target))


def test_purge_says_air_and_minutes() -> None:
    found = purge(volume_hl=30, co2_fraction=1, target_fraction=0.005, air_flow_m3_h=60)
    assert found.air_hl == pytest.approx(30 * np.log(200))
    assert found.minutes == pytest.approx(found.air_hl / 10)
    assert purge(volume_hl=30, co2_fraction=1, target_fraction=0.005).minutes is None

"""The vacuum that a closed vessel draws, and the verdict on it."""

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.tank.vacuum import closed_vessel_vacuum, steam_filled_vacuum


def test_vapour_after_is_that_of_a_second_library() -> None:
    found = closed_vessel_vacuum(temperature_c=80, final_temperature_c=20)
    pascal = PropsSI("P", "T", 293.15, "Q", 0, "Water")
    assert found.vapour_after_mbar == pytest.approx(pascal / 100, rel=1e-4)


@given(hot=st.floats(0, 95), cold=st.floats(0, 95), share=st.floats(0, 1), taken=st.floats(0, 1))
def test_more_taken_up_and_colder_draws_no_less(
    hot: float, cold: float, share: float, taken: float
) -> None:
    def vacuum_mbar(final_c: float, fraction: float) -> float:
        return closed_vessel_vacuum(
            temperature_c=hot, final_temperature_c=final_c, co2_fraction=share,
            taken_up_fraction=fraction,
        ).vacuum_mbar  # fmt: skip

    drawn = vacuum_mbar(cold, taken)
    assert vacuum_mbar(cold, 1.0) >= drawn - 1e-9
    assert vacuum_mbar(max(cold - 5, 0), taken) >= drawn - 1e-9
    assert drawn <= 1013.25


@given(celsius=st.floats(0, 95), share=st.floats(0, 1))
def test_nothing_changed_draws_nothing(celsius: float, share: float) -> None:
    found = closed_vessel_vacuum(
        temperature_c=celsius, final_temperature_c=celsius, co2_fraction=share, taken_up_fraction=0
    )
    assert found.vacuum_mbar == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    "rating, verdict, says",
    [
        (None, "unrated", "this vessel has no vacuum rating"),
        (0, "over", "more than the 0 mbar"),
        (100, "over", "more than the 100 mbar"),
        (700, "within", "within the 700 mbar"),
    ],
)
def test_verdict_is_held_against_the_rating(rating: float | None, verdict: str, says: str) -> None:
    found = closed_vessel_vacuum(
        temperature_c=20, final_temperature_c=20, co2_fraction=0.6, rating_mbar=rating
    )
    assert found.verdict == verdict
    assert says in found.sentence


def test_pressure_left_is_no_vacuum() -> None:
    found = closed_vessel_vacuum(
        temperature_c=10, final_temperature_c=10, pressure_abs_mbar=3000, co2_fraction=0.5,
        rating_mbar=0,
    )  # fmt: skip
    assert (found.verdict, found.air_to_let_in_hl_per_hl) == ("within", 0)
    assert found.sentence == "No vacuum. The vessel stays at or above atmospheric pressure."


def test_steam_draws_more_than_any_wet_air() -> None:
    steam = steam_filled_vacuum(final_temperature_c=20, rating_mbar=50)
    air = closed_vessel_vacuum(temperature_c=95, final_temperature_c=20, rating_mbar=50)
    assert steam.vacuum_mbar > air.vacuum_mbar > 50
    assert steam.verdict == air.verdict == "over"


def test_vapour_above_the_pressure_is_refused() -> None:
    with pytest.raises(OutOfRange, match="Check both, or choose a vessel filled with steam"):
        closed_vessel_vacuum(temperature_c=95, final_temperature_c=20, pressure_abs_mbar=500)


def test_working_is_the_sum() -> None:
    found = closed_vessel_vacuum(temperature_c=60, final_temperature_c=20, co2_fraction=0.3)
    assert found.working[-1].value == found.vacuum_mbar
    assert found.working[-2].value == found.pressure_after_mbar
    assert found.pressure_after_mbar == found.dry_gas_after_mbar + found.vapour_after_mbar

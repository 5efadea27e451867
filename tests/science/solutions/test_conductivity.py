"""Conductivity: inverse, monotony, a site's calibration, rinse end, refusals."""

import dataclasses
import json

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.calibration import (
    Calibration,
    CannotFit,
    calibrate,
    calibrated_strength,
)
from brewhygiene.science.solutions.conductivity import (
    CARBONATE_WARNING,
    CONDUCTIVE_SOLUTES,
    OTHER_SALTS_WARNING,
    compensated_by_division_ms_cm,
    compensated_by_product_ms_cm,
    conductivity_ms_cm,
    read_conductivity,
    strength_from_conductivity_ww,
)
from brewhygiene.science.tank.rinse_end import rinse_end

STRONGEST_WW = {"NaOH": 5.0, "KOH": 3.5, "HNO3": 4.0}
solutes = st.sampled_from(CONDUCTIVE_SOLUTES)
temperatures = st.floats(5, 90)


def test_caustic_agrees_with_the_library() -> None:
    """Its own coefficients for NaOH; the density left at 1000, for the coefficients are molal."""
    from thermo.electrochem import conductivity_McCleskey

    molality_mol_kg = 1000 * 2 / (39.99711 * 98)
    library_s_m = conductivity_McCleskey(
        T=343.15, M=molality_mol_kg, A_coeffs=[0.01018, 0.67421, 56.76],
        lambda_coeffs=[0.006936, 3.872, 148.3], B=0.2, multiplier=1, rho=1000.0,
    )  # fmt: skip
    ours = conductivity_ms_cm(solute="NaOH", strength_ww=2, temperature_c=70)
    assert ours == pytest.approx(library_s_m * 10, rel=1e-9)


def test_caustic_as_a_salt_agrees_with_its_ions() -> None:
    """The 2012 ions give 91.4 mS/cm for 2 % at 20 °C (computed), the 2011 salt 92.9."""
    ours = conductivity_ms_cm(solute="NaOH", strength_ww=2, temperature_c=20)
    assert ours == pytest.approx(91.4, rel=0.02)


@given(solute=solutes, share=st.floats(0, 1), temperature_c=temperatures)
def test_strength_returns_from_its_conductivity(
    solute: str, share: float, temperature_c: float
) -> None:
    strength_ww = share * STRONGEST_WW[solute]
    kappa = conductivity_ms_cm(solute=solute, strength_ww=strength_ww, temperature_c=temperature_c)
    back = strength_from_conductivity_ww(
        solute=solute, conductivity_ms_cm=kappa, temperature_c=temperature_c
    )
    assert back == pytest.approx(strength_ww, rel=1e-9, abs=1e-9)


@given(solute=solutes, share=st.floats(0, 0.99), temperature_c=temperatures)
def test_conductivity_rises_with_strength(solute: str, share: float, temperature_c: float) -> None:
    weaker, stronger = (
        conductivity_ms_cm(
            solute=solute, strength_ww=STRONGEST_WW[solute] * at, temperature_c=temperature_c
        )
        for at in (share, share + 0.01)
    )
    assert stronger > weaker


@given(solute=solutes, share=st.floats(0.01, 1), temperature_c=st.floats(5, 89))
def test_conductivity_rises_with_temperature(
    solute: str, share: float, temperature_c: float
) -> None:
    cooler, warmer = (
        conductivity_ms_cm(
            solute=solute, strength_ww=STRONGEST_WW[solute] * share, temperature_c=at
        )
        for at in (temperature_c, temperature_c + 1)
    )
    assert warmer > cooler


def test_arrays_are_each_of_their_points() -> None:
    strengths, temperatures_c = np.array([0.5, 2.0, 4.0]), np.array([20.0, 60.0, 85.0])
    kappa = conductivity_ms_cm(solute="NaOH", strength_ww=strengths, temperature_c=temperatures_c)
    assert kappa == pytest.approx(
        [
            conductivity_ms_cm(solute="NaOH", strength_ww=ww, temperature_c=at)
            for ww, at in zip(strengths.tolist(), temperatures_c.tolist(), strict=True)
        ],
        rel=1e-12,
    )
    back = strength_from_conductivity_ww(
        solute="NaOH", conductivity_ms_cm=kappa, temperature_c=temperatures_c
    )
    assert back == pytest.approx(strengths, rel=1e-9)


def test_numbers_stay_floats() -> None:
    assert type(conductivity_ms_cm(solute="NaOH", strength_ww=1, temperature_c=20)) is float
    assert (
        type(strength_from_conductivity_ww(solute="NaOH", conductivity_ms_cm=50, temperature_c=20))
        is float
    )


@pytest.mark.parametrize(
    "solute, strength_ww, temperature_c, message",
    [
        ("NaOH", 5.1, 20, "The strength of NaOH is 5.1 % w/w. It must be from 0 to 5 % w/w."),
        ("HNO3", -1, 20, "The strength of HNO3 is -1 % w/w. It must be from 0 to 4 % w/w."),
        ("NaOH", 1, 4,
         "The temperature of the solution is 4 °C. It must be from 5 to 90 °C."),
        ("KOH", 1, float("nan"),
         "The temperature of the solution is nan °C. It must be from 5 to 90 °C."),
    ],
)  # fmt: skip
def test_conductivity_outside_the_table_is_refused(
    solute: str, strength_ww: float, temperature_c: float, message: str
) -> None:
    with pytest.raises(OutOfRange) as refused:
        conductivity_ms_cm(solute=solute, strength_ww=strength_ww, temperature_c=temperature_c)
    assert str(refused.value) == message


def test_a_reading_beyond_the_strongest_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"more than 5 % w/w NaOH has \(209\.45 mS/cm\)") as said:
        strength_from_conductivity_ww(solute="NaOH", conductivity_ms_cm=215, temperature_c=20)
    assert said.value.maximum == pytest.approx(209.45, abs=0.01)
    with pytest.raises(OutOfRange, match="-1 mS/cm"):
        strength_from_conductivity_ww(solute="NaOH", conductivity_ms_cm=-1, temperature_c=20)


def test_one_reading_beyond_the_strongest_refuses_the_array() -> None:
    with pytest.raises(OutOfRange, match=r"^215 mS/cm at 20 °C is more than 5 % w/w NaOH"):
        strength_from_conductivity_ww(
            solute="NaOH",
            conductivity_ms_cm=np.array([50.0, 215.0, 300.0]),
            temperature_c=np.array([20.0, 20.0, 21.0]),
        )


def test_strength_of_an_array_at_its_ends() -> None:
    ends = np.array([0.0, 5.0])
    kappa = conductivity_ms_cm(solute="NaOH", strength_ww=ends, temperature_c=20.0)
    back = strength_from_conductivity_ww(
        solute="NaOH", conductivity_ms_cm=kappa, temperature_c=20.0
    )
    assert back == pytest.approx(ends, rel=1e-9, abs=1e-9)


def test_phosphoric_acid_has_no_conductivity_here() -> None:
    with pytest.raises(KeyError, match="no conductivity table of H3PO4"):
        conductivity_ms_cm(solute="H3PO4", strength_ww=1, temperature_c=20)
    with pytest.raises(KeyError, match="no conductivity table of H3PO4"):
        strength_from_conductivity_ww(solute="H3PO4", conductivity_ms_cm=1, temperature_c=20)


@pytest.mark.parametrize(
    "solute, warning",
    [("NaOH", CARBONATE_WARNING), ("KOH", CARBONATE_WARNING), ("HNO3", OTHER_SALTS_WARNING)],
)
def test_a_reading_carries_its_warning(solute: str, warning: str) -> None:
    reading = read_conductivity(solute=solute, conductivity_ms_cm=50, temperature_c=25)
    assert reading.warning == warning
    assert reading.error_ww > 0
    assert reading.working[-1].value == reading.strength_ww


@given(kappa=st.floats(0, 300), offset_k=st.floats(-25, 30), alpha=st.floats(0, 0.025))
def test_compensations_agree_near_the_reference(
    kappa: float, offset_k: float, alpha: float
) -> None:
    reading = {
        "conductivity_ms_cm": kappa, "temperature_c": 25 + offset_k, "alpha_per_k": alpha,
    }  # fmt: skip
    divided = compensated_by_division_ms_cm(**reading)
    multiplied = compensated_by_product_ms_cm(**reading)
    # 1/(1 + x) = (1 − x) + x²/(1 + x): they part with the square of the distance.
    x = alpha * offset_k
    assert divided - multiplied == pytest.approx(kappa * x**2 / (1 + x), rel=1e-6, abs=1e-9)


def test_compensation_where_the_formula_turns_over_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"The 1 − α \(t − t0\) is"):
        compensated_by_product_ms_cm(conductivity_ms_cm=100, temperature_c=95, alpha_per_k=0.02)
    with pytest.raises(OutOfRange, match=r"The 1 \+ α \(t − t0\) is"):
        compensated_by_division_ms_cm(conductivity_ms_cm=100, temperature_c=5, alpha_per_k=0.06)


def _pairs(
    temperatures_c: list[float], noise: float = 0.0
) -> tuple[list[float], list[float], list[float]]:
    """Strengths, conductivities and temperatures on a line with α = 0.018 at the coldest."""
    random = np.random.default_rng(7)
    strengths = np.linspace(0.5, 3, len(temperatures_c))
    offset_k = np.array(temperatures_c) - min(temperatures_c)
    kappa = (strengths - 0.1) / 0.02 * (1 + 0.018 * offset_k)
    return (
        (strengths + random.normal(0, noise, len(strengths))).tolist(),
        kappa.tolist(),
        temperatures_c,
    )


MANY_TEMPERATURES_C = [20.0, 65.0, 40.0, 25.0, 70.0, 30.0, 50.0, 60.0]


def fit(pairs: tuple[list[float], list[float], list[float]], unit: str = "% w/v") -> Calibration:
    strengths, conductivities, temperatures_c = pairs
    return calibrate(
        strengths=strengths, conductivities_ms_cm=conductivities, temperatures_c=temperatures_c,
        unit=unit,
    )  # fmt: skip


def test_calibration_finds_the_line_that_the_pairs_lie_on() -> None:
    found = fit(_pairs(MANY_TEMPERATURES_C))
    assert found.intercept == pytest.approx(0.1, abs=1e-5)
    assert found.slope == pytest.approx(0.02, rel=1e-5)
    assert found.alpha_per_k == pytest.approx(0.018, abs=1e-6)
    assert found.residual_sd == pytest.approx(0, abs=1e-5)
    assert (found.low_c, found.high_c, found.degrees_of_freedom) == (20, 70, 5)


def test_calibration_agrees_with_a_general_fit() -> None:
    from scipy.optimize import curve_fit

    strengths, kappa, temperatures_c = pairs = _pairs(MANY_TEMPERATURES_C, noise=0.03)
    found = fit(pairs)

    def model(x: np.ndarray, a: float, b: float, alpha: float) -> np.ndarray:
        return a + b * x[0] / (1 + alpha * (x[1] - 20))

    best, covariance = curve_fit(
        model, np.array([kappa, temperatures_c]), strengths, p0=[0, 0.02, 0.02]
    )
    assert (found.intercept, found.slope, found.alpha_per_k) == pytest.approx(best, rel=1e-4)
    assert np.array(found.covariance) * found.residual_sd**2 == pytest.approx(covariance, rel=1e-3)


def test_calibration_at_one_temperature_is_a_straight_line() -> None:
    strengths, kappa, _ = pairs = _pairs([20.0, 20.5, 21.0, 20.0, 20.5], 0.02)
    found = fit(pairs)
    slope, intercept = np.polyfit(kappa, strengths, 1)
    assert (found.intercept, found.slope) == pytest.approx((intercept, slope), rel=1e-9)
    assert found.alpha_per_k == 0
    residuals = np.array(strengths) - intercept - slope * np.array(kappa)
    assert found.residual_sd == pytest.approx(float(np.sqrt(residuals @ residuals / 3)))
    assert (found.low_c, found.high_c) == pytest.approx((18.4, 22.4))


def test_calibrated_strength_states_what_it_is_off() -> None:
    pairs = _pairs(MANY_TEMPERATURES_C, noise=0.03)
    found = fit(pairs)
    for strength, kappa, temperature_c in zip(*pairs, strict=True):
        one = calibrated_strength(
            calibration=found, conductivity_ms_cm=kappa, temperature_c=temperature_c
        )
        assert one.standard > found.residual_sd
        assert one.expanded == 2 * one.standard
        assert one.strength == pytest.approx(strength, abs=3 * found.residual_sd)
        assert (one.unit, one.warning) == ("% w/v", CARBONATE_WARNING)


def test_calibration_survives_being_stored() -> None:
    found = fit(_pairs(MANY_TEMPERATURES_C, noise=0.03))
    stored = json.loads(json.dumps(dataclasses.asdict(found)))
    again = Calibration(**{**stored, "covariance": tuple(map(tuple, stored["covariance"]))})
    assert again == found


@pytest.mark.parametrize("kappa, temperature_c, named", [
    (19.0, 20.0, "conductivity"), (400.0, 60.0, "conductivity"), (80.0, 19.0, "temperature"),
    (80.0, 71.0, "temperature"), (float("nan"), 40.0, "conductivity"),
])  # fmt: skip
def test_calibration_is_silent_outside_its_pairs(
    kappa: float, temperature_c: float, named: str
) -> None:
    with pytest.raises(OutOfRange, match=f"The {named}"):
        calibrated_strength(
            calibration=fit(_pairs(MANY_TEMPERATURES_C)), conductivity_ms_cm=kappa,
            temperature_c=temperature_c,
        )  # fmt: skip


@pytest.mark.parametrize(
    "pairs, message",
    [
        (([1, 2, 3], [10, 20, 30], [20, 20, 20]), "3 pairs are too few"),
        (([1, 2, 3, 4], [10, 20, 30], [20] * 4), "Each pair needs"),
        (([1, 2, 3, 4], [10, 10, 10, 10], [20] * 4), "All conductivities are equal"),
        (([2, 2, 2, 2], [10, 20, 30, 40], [20] * 4), "All strengths are equal"),
        (([4, 3, 2, 1], [10, 20, 30, 40], [20] * 4), "does not rise"),
        (([1, 2, 3, 4], [10, 20, 30, 40], [20, 30, 40, 50]), "At least 5 pairs"),
        # 50 κ a unit of strength, and 8 % of it a kelvin.
        (([1, 2, 3, 4, 5], [50, 420, 270, 1000, 650], [20, 60, 30, 70, 40]), "5 % per K"),
        # t = 60 − 400/κ: κ t is a straight line in κ, so that α could be any.
        (([1, 2, 4, 5, 10], [10, 20, 40, 50, 100], [20, 40, 50, 52, 56]), "rise together"),
    ],
)
def test_pairs_that_no_line_fits_are_refused(
    pairs: tuple[list[float], list[float], list[float]], message: str
) -> None:
    with pytest.raises(CannotFit, match=message):
        fit(pairs)


def test_a_pair_that_cannot_be_is_refused() -> None:
    with pytest.raises(OutOfRange, match="conductivity of a pair is -1 mS/cm"):
        fit(([1, 2, 3, 4], [10, -1, 30, 40], [20] * 4))
    with pytest.raises(OutOfRange, match="strength of a pair is nan"):
        fit(([1, float("nan"), 3, 4], [10, 20, 30, 40], [20] * 4))


def test_rinse_ends_within_the_limit_of_the_water() -> None:
    """At 25 °C: 0.9 / 1.2 = 0.75 and 0.54 / 0.9 = 0.6 mS/cm (by hand)."""
    measured = {
        "rinse_ms_cm": 0.9, "rinse_temperature_c": 35, "water_ms_cm": 0.54,
        "water_temperature_c": 20,
    }  # fmt: skip
    over, within = (rinse_end(**measured, limit_ms_cm=limit) for limit in (0.14, 0.15))
    assert over.difference_ms_cm == pytest.approx(0.15)
    assert (over.reached, within.reached) == (False, True)
    assert [line.value for line in over.working] == pytest.approx([0.75, 0.6, 0.15])


def test_rinse_says_how_much_of_the_solution_is_left() -> None:
    measured = {
        "rinse_ms_cm": 1.6, "rinse_temperature_c": 25, "water_ms_cm": 0.6,
        "water_temperature_c": 25, "limit_ms_cm": 0.1,
    }  # fmt: skip
    end = rinse_end(**measured, solution_ms_cm=100.6, solution_temperature_c=25)
    assert end.left_percent == pytest.approx(1)
    assert rinse_end(**measured).left_percent is None
    with pytest.raises(OutOfRange, match="does not conduct better than the water"):
        rinse_end(**measured, solution_ms_cm=0.5, solution_temperature_c=25)
    with pytest.raises(OutOfRange, match="solution's temperature"):
        rinse_end(**measured, solution_ms_cm=100)

"""Titrations: conservation, uncertainty against random draws, refusals, working."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.science.errors import OutOfRange
from brewhygiene.science.solutions.oxidants import (
    PEROXIDE_FIRST,
    available_chlorine,
    peracid_and_peroxide,
    titratable_iodine,
)
from brewhygiene.science.solutions.strength import titrated_strength_wv
from brewhygiene.science.solutions.titration import Found, TitrationSetup, Tolerances, one_end_point
from brewhygiene.science.solutions.two_end_points import (
    NO_HYDROXIDE,
    alkalinity_shares,
    mixed_acid,
    used_caustic,
)
from brewhygiene.science.uncertainty import propagated, standard_from_tolerance

WRONG_ORDER = (
    "The second end point, 10 mL, comes before the first, 11.5 mL. If it is counted from the "
    "first end point, choose that."
)
HALF_NORMAL = TitrationSetup(0.5, sample_ml=10)


@given(total=st.floats(0.01, 1000), share=st.floats(0, 1))
def test_alkalinity_is_conserved(total: float, share: float) -> None:
    shares = alkalinity_shares(phenolphthalein=total * share, total=total)
    parts = (shares.hydroxide, shares.carbonate, shares.bicarbonate)
    assert sum(parts) == pytest.approx(total, rel=1e-9)
    assert min(parts) >= 0
    # Hydroxide and bicarbonate do not stand each other.
    assert 0 in (shares.hydroxide, shares.bicarbonate)


@given(
    hydroxide=st.floats(0, 1), carbonate=st.floats(0, 0.5), bicarbonate=st.floats(0, 0.5),
    soured=st.booleans(), factor=st.floats(0.9, 1.1), dilution=st.floats(1, 20),
)  # fmt: skip
def test_used_caustic_returns_what_was_titrated(
    hydroxide: float, carbonate: float, bicarbonate: float, soured: bool, factor: float,
    dilution: float,
) -> None:  # fmt: skip
    """A solution of known make, in mol/L; the acid it takes follows from its chemistry."""
    hydroxide, bicarbonate = (0.0, bicarbonate) if soured else (hydroxide, 0.0)
    setup = TitrationSetup(0.5, sample_ml=10, titrant_factor=factor, dilution=dilution, blank=0.1)
    ml_per_eq_l = 10 / (0.5 * factor * dilution)
    used = used_caustic(
        setup=setup,
        first_reading=(hydroxide + carbonate) * ml_per_eq_l + 0.1,
        second_reading=(hydroxide + 2 * carbonate + bicarbonate) * ml_per_eq_l + 0.1,
    )
    assert used.hydroxide.grams_per_l_or_kg == pytest.approx(
        hydroxide * 39.9971, rel=1e-6, abs=1e-5
    )
    assert used.carbonate.grams_per_l_or_kg == pytest.approx(
        carbonate * 105.9884, rel=1e-6, abs=1e-5
    )
    assert used.bicarbonate.grams_per_l_or_kg == pytest.approx(
        bicarbonate * 84.0066, rel=1e-6, abs=1e-5
    )
    assert used.total_alkalinity_mg_l_caco3 == pytest.approx(
        (hydroxide + 2 * carbonate + bicarbonate) * 50_043, rel=1e-4, abs=1e-4
    )


@given(nitric=st.floats(0, 1), phosphoric=st.floats(0, 1))
def test_mixed_acid_returns_what_was_titrated(nitric: float, phosphoric: float) -> None:
    acid = mixed_acid(
        setup=HALF_NORMAL,
        first_reading=(nitric + phosphoric) * 20,
        second_reading=phosphoric * 20,
        second_from="first_end_point",
    )
    assert acid.nitric.grams_per_l_or_kg == pytest.approx(nitric * 63.0129, abs=1e-4)
    assert acid.phosphoric.grams_per_l_or_kg == pytest.approx(phosphoric * 97.9952, abs=1e-4)


def test_second_reading_counts_from_where_it_is_said() -> None:
    whole, further = (
        used_caustic(
            setup=HALF_NORMAL, first_reading=10, second_reading=reading, second_from=second_from
        )
        for reading, second_from in ((11.5, "start"), (1.5, "first_end_point"))
    )
    assert whole == further


@given(percent=st.floats(0.01, 20), sample_ml=st.floats(1, 100))
def test_one_end_point_agrees_with_the_plain_formula(percent: float, sample_ml: float) -> None:
    reading = percent * sample_ml
    titrated = one_end_point(
        setup=TitrationSetup(0.25, sample_ml=sample_ml), substance="KOH", reading=reading
    )
    assert titrated.found.percent == pytest.approx(
        titrated_strength_wv(
            equivalent_weight_g=56.1056, titrant_ml=reading, titrant_normality=0.25,
            sample_ml=sample_ml,
        )
    )  # fmt: skip


def test_blank_factor_and_dilution_each_count() -> None:
    """(10.2 − 0.2) · 0.5 · 1.02 · 40 · 10 / (10 · 10) = 20.4 (by hand, E rounded to 40)."""
    setup = TitrationSetup(0.5, sample_ml=10, titrant_factor=1.02, blank=0.2, dilution=10)
    titrated = one_end_point(setup=setup, substance="NaOH", reading=10.2, equivalent_weight_g=40)
    assert titrated.found.percent == pytest.approx(20.4)
    assert titrated.eq_per_l_or_kg == pytest.approx(5.1)


def _drawn(setup: TitrationSetup, readings: list[float], draws: int) -> dict[str, np.ndarray]:
    """Random inputs, each even within its tolerance."""
    random = np.random.default_rng(20_240)

    def even(value: float, tolerance: float) -> np.ndarray:
        return value + random.uniform(-tolerance, tolerance, draws)

    within = setup.tolerances
    one_reading = within.burette_ml if setup.drops_per_ml is None else within.drop
    drops_per_ml = setup.drops_per_ml or 1.0
    drop_size = 0.0 if setup.drops_per_ml is None else within.drop_size_percent / 100
    per_ml = even(drops_per_ml, drops_per_ml * drop_size)
    blank = even(setup.blank, one_reading) if setup.blank else np.zeros(draws)
    titrant_eq_l = setup.titrant_eq_l * setup.titrant_factor
    scale = even(titrant_eq_l, titrant_eq_l * within.titrant_percent / 100) * setup.dilution
    scale /= 10 * even(setup.sample, setup.sample * within.sample_percent / 100)
    millilitres = [(even(reading, one_reading) - blank) / per_ml for reading in readings]
    return {"scale": scale, **{f"v{i}": ml for i, ml in enumerate(millilitres, start=1)}}


def _assert_spread(found: Found, drawn: np.ndarray, rel: float) -> None:
    assert found.uncertainty.standard == pytest.approx(float(drawn.std()), rel=rel)
    assert found.uncertainty.expanded == 2 * found.uncertainty.standard
    inside = np.abs(drawn - found.percent) <= found.uncertainty.expanded
    assert inside.mean() > 0.94


@pytest.mark.parametrize(
    "setup, reading, rel",
    [
        (HALF_NORMAL, 10.2, 0.02),
        (TitrationSetup(0.5, sample_ml=10, blank=0.3, dilution=5), 4, 0.02),
        # A drop ± 10 % is at the edge of what the first order holds for.
        (TitrationSetup(1, sample_ml=1, drops_per_ml=20), 10, 0.04),
    ],
)
def test_uncertainty_of_one_end_point_is_that_of_random_draws(
    setup: TitrationSetup, reading: float, rel: float
) -> None:
    found = one_end_point(setup=setup, substance="NaOH", reading=reading).found
    drawn = _drawn(setup, [reading], 200_000)
    _assert_spread(found, drawn["v1"] * drawn["scale"] * 39.9971, rel)


@pytest.mark.parametrize(
    "setup, readings, rel",
    [
        (HALF_NORMAL, (10.0, 11.5), 0.02),
        (TitrationSetup(0.1, sample_ml=5, blank=0.1, tolerances=Tolerances(burette_ml=0.02)),
         (18.0, 24.0), 0.02),
        (TitrationSetup(1, sample_ml=5, drops_per_ml=20), (60, 70), 0.04),
    ],
)  # fmt: skip
def test_uncertainty_of_used_caustic_is_that_of_random_draws(
    setup: TitrationSetup, readings: tuple[float, float], rel: float
) -> None:
    used = used_caustic(setup=setup, first_reading=readings[0], second_reading=readings[1])
    drawn = _drawn(setup, list(readings), 200_000)
    p, t = drawn["v1"], drawn["v2"]
    _assert_spread(used.hydroxide, (2 * p - t) * drawn["scale"] * 39.9971, rel)
    _assert_spread(used.carbonate, 2 * (t - p) * drawn["scale"] * 52.9942, rel)
    assert used.bicarbonate.uncertainty.standard == 0


def test_difference_of_end_points_magnifies_the_first() -> None:
    """dNaOH/NaOH = 2P/(2P − T) · dP/P: 1 % in P at P/T = 0.87 is 2.35 % in NaOH."""
    one, more = (
        used_caustic(setup=HALF_NORMAL, first_reading=p, second_reading=10).hydroxide.percent
        for p in (8.7, 8.7 * 1.01)
    )
    assert more / one - 1 == pytest.approx(0.0235, abs=0.0002)


def test_uncertainty_names_what_weighs_most() -> None:
    drops = one_end_point(
        setup=TitrationSetup(1, sample_ml=1, drops_per_ml=20), substance="NaOH", reading=10
    ).found.uncertainty
    assert [name for name, _ in drops.shares_percent][:2] == ["drop size", "end point"]
    assert math.fsum(share for _, share in drops.shares_percent) == pytest.approx(100)


def test_no_hydroxide_to_speak_of_is_said() -> None:
    used = used_caustic(setup=HALF_NORMAL, first_reading=5.02, second_reading=10)
    assert used.case == "P > T/2"
    assert NO_HYDROXIDE in used.notes
    even = used_caustic(setup=HALF_NORMAL, first_reading=5, second_reading=10)
    assert (even.hydroxide.percent, even.bicarbonate.percent) == (0, 0)
    assert even.hydroxide.uncertainty.standard > 0


def test_peroxide_goes_before_peracid_on_the_same_sample() -> None:
    setup = TitrationSetup(0.1, sample_ml=5)
    both = peracid_and_peroxide(
        peroxide_setup=setup, peroxide_reading=1, peracid_setup=setup, peracid_reading=1
    )
    assert both.notes == (PEROXIDE_FIRST,)
    with pytest.raises(OutOfRange, match="same sample"):
        peracid_and_peroxide(
            peroxide_setup=setup, peroxide_reading=1,
            peracid_setup=TitrationSetup(0.1, sample_ml=10), peracid_reading=1,
        )  # fmt: skip


def test_nothing_used_is_nothing_found() -> None:
    assert available_chlorine(setup=HALF_NORMAL, reading=0).hypochlorite_percent == 0
    assert titratable_iodine(setup=HALF_NORMAL, reading=0).found.percent == 0
    used = used_caustic(setup=HALF_NORMAL, first_reading=0, second_reading=0)
    assert (used.case, used.carbonate_share_percent) == ("P = 0", 0)


@pytest.mark.parametrize(
    "first, second, message",
    [
        (11.5, 10, WRONG_ORDER),
        (-1, 10, "The reading is -1 mL. It must be at least 0 mL."),
        (float("nan"), 10, "The reading is nan mL. It must be at least 0 mL."),
    ],
)  # fmt: skip
@pytest.mark.parametrize("titration", [used_caustic, mixed_acid])
def test_end_points_in_the_wrong_order_are_refused(
    titration: object, first: float, second: float, message: str
) -> None:
    assert callable(titration)
    with pytest.raises(OutOfRange) as refused:
        titration(setup=HALF_NORMAL, first_reading=first, second_reading=second)
    assert str(refused.value) == message


def test_a_negative_further_reading_is_refused() -> None:
    with pytest.raises(OutOfRange, match="cannot be below 0"):
        used_caustic(
            setup=HALF_NORMAL, first_reading=1, second_reading=-1, second_from="first_end_point"
        )


def test_alkalinity_with_p_above_t_is_refused() -> None:
    with pytest.raises(OutOfRange, match="cannot come before the first"):
        alkalinity_shares(phenolphthalein=3, total=2)
    with pytest.raises(OutOfRange, match="cannot be below 0"):
        alkalinity_shares(phenolphthalein=-1, total=2)
    with pytest.raises(OutOfRange):
        alkalinity_shares(phenolphthalein=float("nan"), total=2)


def test_more_phosphoric_acid_than_acid_is_refused() -> None:
    with pytest.raises(OutOfRange, match="not a mixture of nitric and phosphoric"):
        mixed_acid(setup=HALF_NORMAL, first_reading=5, second_reading=10.1)


def test_a_reading_below_the_blank_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"The reading of 0\.1 mL is below the blank of 0\.2 mL"):
        one_end_point(
            setup=TitrationSetup(1, sample_ml=1, blank=0.2), substance="NaOH", reading=0.1
        )


@pytest.mark.parametrize(
    "wrong, message",
    [
        ({"titrant_eq_l": 0}, "titrant's strength is 0 eq/L"),
        ({"sample_ml": 0}, "sample is 0 mL"),
        ({"sample_ml": None}, "Enter the sample in mL or in g"),
        ({"sample_g": 1}, "Enter the sample in mL or in g"),
        ({"titrant_factor": 3}, "titrant's factor is 3"),
        ({"dilution": 0.5}, "dilution is 0.5 times"),
        ({"drops_per_ml": 0}, "drops in a mL is 0"),
        ({"blank": -1}, "blank is -1 mL"),
        ({"tolerances": Tolerances(burette_ml=-1)}, "tolerance burette_ml is -1"),
    ],
)
def test_a_setup_that_cannot_be_is_refused(wrong: dict[str, float], message: str) -> None:
    with pytest.raises(OutOfRange, match=message):
        TitrationSetup(**({"titrant_eq_l": 1, "sample_ml": 10} | wrong))


def test_an_unknown_substance_needs_its_equivalent_weight() -> None:
    with pytest.raises(KeyError):
        one_end_point(setup=HALF_NORMAL, substance="citric acid", reading=1)
    found = one_end_point(
        setup=HALF_NORMAL, substance="citric acid", reading=1, equivalent_weight_g=64.04
    ).found
    assert found.percent == pytest.approx(0.3202)


def test_working_of_used_caustic_can_be_followed() -> None:
    used = used_caustic(setup=HALF_NORMAL, first_reading=10, second_reading=11.5)
    assert [str(line) for line in used.working][:5] == [
        "P, to phenolphthalein: reading − blank = 10 − 0 = 10 mL",
        "T, from the start to methyl orange: reading − blank = 11.5 − 0 = 11.5 mL",
        "half of T, so P > T/2: T ÷ 2 = 11.5 ÷ 2 = 5.75 mL",
        "equivalents of NaOH: (2P − T) · N · f ÷ sample = 8.5 × 0.5 × 1 ÷ 10 = 0.425 eq/L",
        "NaOH: equivalents · equivalent weight ÷ 10 = 0.425 × 39.9971 ÷ 10 = 1.6999 % w/v",
    ]


def test_propagation_of_a_sum_adds_squares() -> None:
    found = propagated(
        function=lambda v: v["a"] - v["b"], values={"a": 5, "b": 3},
        standard_uncertainties={"a": 0.3, "b": 0.4},
    )  # fmt: skip
    assert found.standard == pytest.approx(0.5)
    assert found.expanded == pytest.approx(1.0)
    with pytest.raises(OutOfRange):
        standard_from_tolerance(tolerance=-1)

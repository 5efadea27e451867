"""Most probable number: the ends, what is improbable, what is refused."""

import math

import pytest

from brewhygiene.science.counting.mpn import most_probable_number
from brewhygiene.science.errors import OutOfRange, TooFewReadings


def test_no_tube_grown_gives_an_upper_bound() -> None:
    found = most_probable_number(positive=(0, 0), tubes=(3, 3), amounts_ml=(10, 1))
    assert (found.per_ml, found.low_per_ml, found.log_interval) == (0, 0, None)
    assert found.high_per_ml == pytest.approx(-math.log(0.05) / 33)


def test_every_tube_grown_gives_a_lower_bound() -> None:
    found = most_probable_number(positive=(3, 3), tubes=(3, 3), amounts_ml=(1, 0.1))
    assert (found.per_ml, found.high_per_ml) == (None, None)
    grown = (1 - math.exp(-found.low_per_ml)) ** 3 * (1 - math.exp(-found.low_per_ml * 0.1)) ** 3
    assert grown == pytest.approx(0.05)


def test_one_dilution_is_solved_by_hand() -> None:
    """1 of 2 tubes of 1 mL: exp(-N) = 1/2."""
    found = most_probable_number(positive=(1,), tubes=(2,), amounts_ml=(1,))
    assert found.per_ml == pytest.approx(math.log(2))


@pytest.mark.parametrize(
    "positive, category", [((3, 1, 0), 1), ((2, 0, 2), 3), ((0, 0, 3), 3), ((1, 2, 0), 2)]
)
def test_improbable_outcome_is_pointed_out(positive: tuple[int, ...], category: int) -> None:
    found = most_probable_number(positive=positive, tubes=(3, 3, 3), amounts_ml=(10, 1, 0.1))
    assert found.category == category
    assert bool(found.says) == (category > 1)


@pytest.mark.parametrize(
    "values, error",
    [
        ({"positive": (), "tubes": (), "amounts_ml": ()}, TooFewReadings),
        ({"positive": (1, 0), "tubes": (3,), "amounts_ml": (1, 0.1)}, TooFewReadings),
        ({"positive": (4,), "tubes": (3,), "amounts_ml": (1,)}, OutOfRange),
        ({"positive": (-1,), "tubes": (3,), "amounts_ml": (1,)}, OutOfRange),
        ({"positive": (1,), "tubes": (0,), "amounts_ml": (1,)}, OutOfRange),
        ({"positive": (1,), "tubes": (3,), "amounts_ml": (0,)}, OutOfRange),
        ({"positive": (1,), "tubes": (3,), "amounts_ml": (math.nan,)}, OutOfRange),
    ],
)
def test_tubes_that_cannot_be_are_refused(values: dict, error: type[Exception]) -> None:
    with pytest.raises(error):
        most_probable_number(**values)


def test_amounts_far_apart_are_solved() -> None:
    found = most_probable_number(
        positive=(5, 5, 4, 1), tubes=(5, 5, 5, 5), amounts_ml=(100, 0.01, 1e-6, 1e-9)
    )
    assert found.low_per_ml < found.per_ml < found.high_per_ml

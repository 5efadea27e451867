"""The count of a plate's dishes in CFU and in words: no database."""

import math
from typing import Any

import pytest

from brewhygiene.plates.growth import dish_words, growth_from, growth_of
from brewhygiene.plates.models import DishCount, Plate, colony_words
from brewhygiene.science.counting.colonies import Dish

# Confidence limits of a count of 35 and of 3: Garwood (1936), from memory; 95 % of none: -ln 0.05.
PER_ML: list[tuple[list[Dish], str, float | None, float, float | None, str]] = [
    ([Dish(1, 1, 35)], "counted", 35, 24.379, 48.677, "35 CFU per mL (24 to 49)"),
    ([Dish(1, 1, 3)], "estimated", 3, 0.6187, 8.7673, "about 3 CFU per mL (0.62 to 8.8)"),
    (
        [Dish(1, 100, 0)],
        "none_found",
        None,
        0,
        -math.log(0.05) / 100,
        "none found in 100 mL: below 0.03 CFU per mL with 95 % confidence",
    ),
    (
        [Dish(1, 1, None)],
        "too_many",
        None,
        267.01,
        None,
        "too many to count: more than 270 CFU per mL",
    ),
    (
        [Dish(1, 1, None), Dish(100, 1, 0)],
        "too_many",
        None,
        267.01,
        -math.log(0.05) * 100,
        "too many to count: between 270 and 300 CFU per mL",
    ),
]
# 10 mL from 25 cm²: each CFU per mL is 40 on 100 cm².
BY_AREA = [
    "1400 CFU per 100 cm² (980 to 1900)",
    "about 120 CFU per 100 cm² (25 to 350)",
    "none found in 100 mL of the swab's liquid: below 1.2 CFU per 100 cm² with 95 % confidence",
    "too many to count: more than 11000 CFU per 100 cm²",
    "too many to count: between 11000 and 12000 CFU per 100 cm²",
]


@pytest.mark.parametrize("dishes, kind, value, low, high, words", PER_ML)
@pytest.mark.parametrize("suspension_ml, area_cm2", [(None, None), (10, None), (None, 25)])
def test_a_count_is_per_ml_unless_both_liquid_and_area_are_known(
    dishes: list[Dish],
    kind: str,
    value: float | None,
    low: float,
    high: float | None,
    words: str,
    suspension_ml: float | None,
    area_cm2: float | None,
) -> None:
    growth = growth_from(dishes, suspension_ml=suspension_ml, area_cm2=area_cm2)
    assert growth is not None
    assert (growth.kind, growth.unit, growth.words) == (kind, "CFU per mL", words)
    found, expected = (growth.value, growth.low, growth.high), (value, low, high)
    assert [None if n is None else pytest.approx(n, rel=1e-4) for n in expected] == list(found)
    # What was found needs no more words where nothing was found.
    assert bool(growth.note) is (kind in ("estimated", "too_many"))


@pytest.mark.parametrize("row, words", list(zip(PER_ML, BY_AREA, strict=True)))
def test_a_swab_is_counted_by_area(row: tuple[Any, ...], words: str) -> None:
    dishes, _, value, low, high, _ = row
    growth = growth_from(dishes, suspension_ml=10, area_cm2=25)
    assert growth is not None
    assert (growth.unit, growth.words) == ("CFU per 100 cm²", words)
    found, per_ml = (growth.value, growth.low, growth.high), (value, low, high)
    assert [None if n is None else pytest.approx(40 * n, rel=1e-4) for n in per_ml] == list(found)


def test_without_a_dish_or_with_one_that_cannot_be_there_is_no_count() -> None:
    assert growth_from([], suspension_ml=10, area_cm2=25) is None
    assert growth_from([Dish(1, 0, 1)], suspension_ml=None, area_cm2=None) is None


def test_the_amount_in_which_nothing_was_found_is_told_in_three_figures() -> None:
    growth = growth_from([Dish(1, 12.346, 0)], suspension_ml=None, area_cm2=None)
    assert growth is not None
    assert growth.words.startswith("none found in 12.3 mL: below 0.24 CFU per mL")


def plate(state: str, *dishes: DishCount, **values: float) -> Plate:
    found = Plate(state=state, **values)
    found.standing_dishes = list(dishes)  # type: ignore[attr-defined]
    return found


def test_a_plate_counts_its_own_dishes_once_it_is_read() -> None:
    dish = DishCount(dilution=1, volume_ml=1, colonies=35)
    assert growth_of(plate("pending", dish)) is None
    read = growth_of(plate("positive", dish))
    swab = growth_of(plate("positive", dish, suspension_ml=10, area_cm2=25))
    assert read is not None
    assert swab is not None
    assert (read.value, swab.value) == (35, pytest.approx(1400))


def test_each_dish_is_told_as_it_was_counted() -> None:
    dishes = [
        DishCount(dilution=1, volume_ml=0.25, colonies=1),
        DishCount(dilution=1.5, volume_ml=1, colonies=0),
        DishCount(dilution=1_000_000, volume_ml=12.345, colonies=None),
        DishCount(dilution=1_234_567.8912, volume_ml=1, colonies=2),
    ]
    assert dish_words(dishes) == [
        "1 colony on 0.25 mL",
        "0 colonies on 1 mL, diluted 1.5 times",
        "too many to count on 12.35 mL, diluted 1000000 times",
        "2 colonies on 1 mL, diluted 1234567.891 times",
    ]


@pytest.mark.parametrize(
    "state, colonies, words",
    [
        ("negative", 0, "nothing grew"),
        ("positive", None, "too many colonies to count"),
        ("positive", 1, "1 colony"),
        ("positive", 12, "12 colonies"),
        ("pending", None, "0 colonies"),
    ],
)
def test_colonies_in_words(state: str, colonies: int | None, words: str) -> None:
    assert colony_words(state, colonies) == words
    assert Plate(state=state, colonies=colonies).colony_words == words


@pytest.mark.parametrize(
    "state, closed, is_open",
    [
        ("positive", False, True),
        ("positive", True, False),
        ("negative", False, False),
        ("pending", False, False),
    ],
)
def test_a_positive_plate_is_open_until_it_is_closed(
    state: str, closed: bool, is_open: bool
) -> None:
    assert Plate(state=state, resolved_at=object() if closed else None).open_positive is is_open

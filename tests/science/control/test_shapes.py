"""Which shape a rise has: planted causes are found, and no one else is blamed for them."""

import random
from collections.abc import Callable

import pytest

from brewhygiene.science.control.shapes import Shapes, Tagged, shapes_of
from brewhygiene.science.errors import OutOfRange, TooFewReadings

VESSELS = ("FV1", "FV2", "FV3", "FV4", "FV5")
POINTS = ("cone", "valve", "arm")
WEEKS = 6


def house(
    shift: Callable[[dict[str, str], int], float],
    *,
    seed: int = 1,
    **more: Callable[[int, int], str],
) -> Shapes:
    """Six weeks of a house; ``more`` gives a level by week and vessel's number."""
    chance = random.Random(seed)
    readings = []
    for week in range(WEEKS):
        for number, vessel in enumerate(VESSELS):
            for point in POINTS:
                one = {
                    "vessel": vessel,
                    "point": f"{vessel}, {point}",
                    "week": str(week),
                    "meter": "M1",
                    "test_lot": "L1",
                    "regime": "R1",
                    "agent_lot": f"C{week // 2}",
                    "person": ("JF", "PL")[(week + number) % 2],
                    **{factor: level(week, number) for factor, level in more.items()},
                }
                readings.append(
                    Tagged(
                        chance.gauss(0, 1) + shift(one, week),
                        week * 10 + number,
                        {factor: (level,) for factor, level in one.items()},
                    )
                )
    return shapes_of(readings)


def named(shapes: Shapes) -> list[tuple[str, str]]:
    return [(one.rise.factor, one.rise.level) for one in shapes.suspects]


def test_steady_house_has_no_suspect() -> None:
    assert [named(house(lambda one, week: 0, seed=seed)) for seed in range(20)] == [[]] * 20


def test_one_point_is_point_shaped() -> None:
    found = house(lambda one, week: 3 if one["point"] == "FV3, valve" else 0)
    assert named(found) == [("point", "FV3, valve")]


def test_all_points_of_a_vessel_are_vessel_shaped() -> None:
    found = house(lambda one, week: 2 if one["vessel"] == "FV2" else 0)
    assert named(found) == [("vessel", "FV2")]


def test_meter_that_half_the_vessels_are_read_with_is_meter_shaped() -> None:
    found = house(
        lambda one, week: 2 if one["meter"] == "M2" else 0,
        meter=lambda week, number: "M2" if number in (1, 3) else "M1",
    )
    assert named(found) == [("meter", "M2")]


def test_test_lot_is_lot_shaped() -> None:
    found = house(
        lambda one, week: 1.5 if one["test_lot"] == "L2" else 0,
        test_lot=lambda week, number: "L2" if (week + 2 * number) % 3 == 0 else "L1",
    )
    assert named(found) == [("test_lot", "L2")]


def test_weak_agent_lot_names_what_it_cannot_be_told_from() -> None:
    found = house(lambda one, week: 1.5 if one["agent_lot"] == "C1" else 0)
    assert named(found) == [("agent_lot", "C1")]


def test_lot_that_came_with_a_meter_is_not_told_from_it() -> None:
    found = house(
        lambda one, week: 2 if one["meter"] == "M2" else 0,
        meter=lambda week, number: "M2" if number in (1, 3) else "M1",
        test_lot=lambda week, number: "L2" if number in (1, 3) else "L1",
    )
    (suspect,) = found.suspects
    assert {suspect.rise.factor, *(one.factor for one in suspect.alike)} == {"meter", "test_lot"}


def test_regime_is_regime_shaped() -> None:
    found = house(
        lambda one, week: 1.8 if one["regime"] == "R2" else 0,
        regime=lambda week, number: "R2" if (week * 3 + number) % 4 == 0 else "R1",
    )
    assert named(found) == [("regime", "R2")]


def test_technique_is_person_shaped() -> None:
    found = house(lambda one, week: 1.5 if one["person"] == "PL" else 0)
    assert named(found) == [("person", "PL")]


def test_person_is_not_blamed_for_a_vessel_or_a_lot_that_came_their_way() -> None:
    found = house(
        lambda one, week: 2.5 if one["vessel"] == "FV4" else 0,
        person=lambda week, number: "PL" if number == 3 else "JF",
    )
    assert named(found) == [("vessel", "FV4")]
    found = house(
        lambda one, week: 2 if one["test_lot"] == "L2" else 0,
        test_lot=lambda week, number: "L2" if number in (0, 2) else "L1",
        person=lambda week, number: "PL" if number in (0, 2) else "JF",
    )
    (suspect,) = found.suspects
    assert (suspect.rise.factor, suspect.alike[0].factor) == ("test_lot", "person")


def test_everything_at_once_is_the_house() -> None:
    found = house(lambda one, week: 1.2)
    assert named(found) == [("brewery", "all")]


def test_slow_creep_is_told_from_a_step() -> None:
    slow = house(lambda one, week: 0.9 * week if one["vessel"] == "FV1" else 0)
    step = house(lambda one, week: 4 * (week >= 3) if one["vessel"] == "FV1" else 0)
    assert [(one.rise.level, one.creeping) for one in slow.suspects] == [("FV1", True)]
    assert [(one.rise.level, one.creeping) for one in step.suspects] == [("FV1", False)]


def test_two_causes_are_both_found() -> None:
    found = house(
        lambda one, week: 3 * (one["vessel"] == "FV2") + 3.5 * (one["point"] == "FV5, arm")
    )
    assert named(found) == [("vessel", "FV2"), ("point", "FV5, arm")]


def test_too_few_or_no_numbers_are_refused() -> None:
    one = Tagged(0.0, 0, {"point": ("a",)})
    with pytest.raises(TooFewReadings, match=r"2 readings are too few to compare\. At least 12"):
        shapes_of([one, one])
    with pytest.raises(OutOfRange, match="not a number"):
        shapes_of([Tagged(float("nan"), 0, {"point": ("a",)})] * 12)

"""The form of a plate's reading by itself: its bounds, its rows, what it refuses and gives."""

from typing import Any

import pytest

from brewhygiene.plates.models import DishCount, Plate
from brewhygiene.plates.reading_forms import (
    CorrectPlateForm,
    ReadForm,
    as_typed,
    asked_rows,
    reading_as_typed,
)
from brewhygiene.science.counting.colonies import Dish

STATE = "Choose negative or positive."
VOLUME = "Enter the volume on this dish in mL."
COUNT = "Enter the number of colonies, e.g. 0."
BOTH = "Enter a number or tick “too many to count”, not both."


def sent(rows: int = 4, **typed: str) -> ReadForm:
    return ReadForm(typed, rows=rows)


@pytest.mark.parametrize(
    "field, least, most, too_little, too_much",
    [
        ("colonies", "0", "100000", "-1", "100001"),
        ("volume_ml", "0.001", "10000", "0.0009", "10000.1"),
        ("dilution", "1", "1000000000", "0.99", "1000000001"),
    ],
)
@pytest.mark.parametrize("after", ["", "_2", "_4"])
def test_each_number_of_a_dish_has_its_bounds(
    field: str, least: str, most: str, too_little: str, too_much: str, after: str
) -> None:
    for typed, refused in ((least, False), (most, False), (too_little, True), (too_much, True)):
        form = sent(**{f"{field}{after}": typed})
        # Without a bound passed, at most the volume is missing beside it.
        words = form.errors.get(f"{field}{after}", [""])[0]
        assert (words not in ("", VOLUME)) is refused, (typed, words)


def test_the_first_dish_is_named_plainly_and_the_others_by_number() -> None:
    form = sent(rows=5)
    labels = [[field.label for field in form.fields.values()][n] for n in range(5, 13)]
    assert labels == [
        "Colonies",
        "Too many to count",
        "Volume plated",
        "Dilution",
        "Dish 2: colonies",
        "Dish 2: too many to count",
        "Dish 2: volume plated",
        "Dish 2: dilution",
    ]
    assert [row.number for row in form.dish_rows] == [1, 2, 3, 4, 5]
    assert [row.volume_ml.name for row in form.dish_rows][:2] == ["volume_ml", "volume_ml_2"]
    assert [row.too_many.name for row in form.dish_rows][-1] == "too_many_5"
    assert form["rows"].initial == 5


def test_every_number_of_a_dish_has_the_number_pad() -> None:
    pads = {
        name: field.widget.attrs.get("data-pad")
        for name, field in sent(rows=2).fields.items()
        if name.startswith(("colonies", "volume_ml", "dilution"))
    }
    assert pads == {
        "colonies": "count",
        "volume_ml": "decimal",
        "dilution": "decimal",
        "colonies_2": "count",
        "volume_ml_2": "decimal",
        "dilution_2": "decimal",
    }


@pytest.mark.parametrize(
    "typed, rows",
    [
        ("4", 4),
        ("5", 5),
        ("23", 23),
        ("24", 24),
        ("25", 24),
        ("999", 24),
        ("3", 4),
        ("0", 4),
        # What no page of ours sends.
        ("1000", 4),
        ("-5", 4),
        ("²", 4),
        ("٩", 4),
        ("", 4),
        ("five", 4),
        (None, 4),
    ],
)
def test_a_form_has_from_4_to_24_dishes(typed: str | None, rows: int) -> None:
    assert asked_rows({} if typed is None else {"rows": typed}) == rows


def test_more_dishes_are_offered_up_to_24() -> None:
    assert [sent(rows=rows).may_grow for rows in (4, 23, 24)] == [True, True, False]


@pytest.mark.parametrize(
    "rows, typed, shown",
    [
        (4, {}, False),
        (4, {"colonies": "5", "volume_ml": "1"}, False),
        (4, {"colonies_2": "0"}, True),
        (4, {"too_many_3": "on"}, True),
        (4, {"dilution_4": "10"}, True),
        (5, {}, True),
    ],
)
def test_dishes_after_the_first_are_shown_once_one_is_filled_or_more_were_asked_for(
    rows: int, typed: dict[str, str], shown: bool
) -> None:
    assert sent(rows=rows, **typed).more_filled is shown


REFUSED: list[tuple[dict[str, str], dict[str, str]]] = [
    ({}, {"state": STATE}),
    ({"volume_ml": "1"}, {"state": STATE}),
    ({"dilution_2": "10"}, {"state": STATE}),
    ({"organism": "rods"}, {"state": STATE}),
    # A count without a volume cannot say by itself what it means.
    ({"colonies": "5"}, {"state": STATE}),
    ({"colonies": "0"}, {"state": STATE}),
    ({"too_many": "on"}, {"state": STATE}),
    ({"colonies_2": "5"}, {"volume_ml_2": VOLUME}),
    ({"too_many_2": "on"}, {"volume_ml_2": VOLUME}),
    ({"state": "positive", "colonies": "5", "dilution": "10"}, {"volume_ml": VOLUME}),
    ({"state": "positive", "colonies_2": "5"}, {"volume_ml_2": VOLUME}),
    # One with its volume asks for that of the others.
    (
        {"state": "positive", "colonies": "5", "colonies_2": "5", "volume_ml_2": "1"},
        {"volume_ml": VOLUME},
    ),
    (
        {"colonies": "5", "volume_ml": "1", "too_many_3": "on"},
        {"volume_ml_3": VOLUME},
    ),
    ({"state": "positive", "volume_ml": "1"}, {"colonies": COUNT}),
    ({"colonies": "5", "volume_ml": "1", "volume_ml_4": "1"}, {"colonies_4": COUNT}),
    ({"colonies": "5", "volume_ml": "1", "too_many": "on"}, {"colonies": BOTH}),
    (
        {
            "colonies": "5",
            "volume_ml": "1",
            "colonies_2": "0",
            "volume_ml_2": "1",
            "too_many_2": "1",
        },
        {"colonies_2": BOTH},
    ),
    ({"state": "positive", "colonies": "5", "too_many": "on"}, {"colonies": BOTH}),
    # A number that cannot be is told once, and nothing is asked beside it.
    ({"colonies": "x"}, {"colonies": "“x” is not a whole number.", "state": STATE}),
    ({"colonies": "x", "volume_ml": "1"}, {"colonies": "“x” is not a whole number."}),
    (
        {"state": "positive", "colonies": "x", "dilution": "10"},
        {"colonies": "“x” is not a whole number."},
    ),
    (
        {"state": "positive", "colonies_2": "5", "volume_ml_2": "0"},
        {"volume_ml_2": "0 mL is too low. Enter at least 0.001 mL."},
    ),
    (
        {"state": "positive", "colonies_2": "5", "dilution_2": "0"},
        {"dilution_2": "0 times is too low. Enter at least 1 times."},
    ),
    ({"state": "odd", "colonies": "5", "volume_ml": "1"}, {"state": "Select a valid choice."}),
]


@pytest.mark.parametrize("typed, errors", REFUSED, ids=str)
def test_a_reading_is_refused_beside_the_field_that_lacks(
    typed: dict[str, str], errors: dict[str, str]
) -> None:
    form = sent(**typed)
    assert not form.is_valid()
    assert form.errors.keys() == errors.keys()
    for name, words in errors.items():
        assert len(form.errors[name]) == 1
        assert form.errors[name][0].startswith(words)


GIVEN: list[tuple[dict[str, str], list[Dish]]] = [
    ({"state": "negative"}, []),
    ({"state": "positive", "colonies": "12"}, []),
    ({"state": "positive", "too_many": "on"}, []),
    ({"state": "negative", "volume_ml": "100"}, [Dish(1, 100, 0)]),
    ({"state": "negative", "volume_ml_2": "100", "dilution_2": "10"}, [Dish(10, 100, 0)]),
    ({"colonies": "5", "volume_ml": "1"}, [Dish(1, 1, 5)]),
    ({"colonies": "0", "volume_ml": "1"}, [Dish(1, 1, 0)]),
    ({"too_many": "on", "volume_ml": "1", "dilution": "10"}, [Dish(10, 1, None)]),
    (
        {"too_many": "on", "volume_ml": "1", "colonies_4": "9", "volume_ml_4": "0.5"},
        [Dish(1, 1, None), Dish(1, 0.5, 9)],
    ),
]


@pytest.mark.parametrize("typed, dishes", GIVEN, ids=str)
def test_a_dish_is_one_with_a_volume_and_is_empty_where_nothing_grew(
    typed: dict[str, str], dishes: list[Dish]
) -> None:
    form = sent(**typed, organism="rods")
    assert form.is_valid(), form.errors
    assert form.dishes == dishes
    assert form.seen() == {
        "state": typed.get("state", ""),
        "colonies": int(typed["colonies"]) if "colonies" in typed else None,
        "too_many": "too_many" in typed,
        "organism": "rods",
        "dishes": dishes,
    }


def test_the_password_is_asked_only_for_a_plate_that_was_positive() -> None:
    for was_positive in (True, False):
        form = CorrectPlateForm({"state": "negative"}, rows=4, was_positive=was_positive)
        assert ("password" in form.fields) is was_positive
        assert form.errors["reason"] == ["Enter a reason."]
        assert form.errors.keys() == {"reason"}
    for letters, fits in ((200, True), (201, False)):
        typed = {"state": "negative", "reason": "x" * letters}
        assert CorrectPlateForm(typed, was_positive=False).is_valid() is fits


def test_an_organism_is_at_most_a_hundred_letters() -> None:
    assert sent(state="negative", organism="x" * 100).is_valid()
    assert sent(state="negative", organism="x" * 101).errors.keys() == {"organism"}


# ---- a reading as it was typed ----


def plate(state: str, colonies: int | None, *dishes: DishCount) -> Plate:
    found = Plate(state=state, colonies=colonies, organism="rods")
    found.standing_dishes = list(dishes)  # type: ignore[attr-defined]
    return found


TYPED: list[tuple[Plate, int, dict[str, Any]]] = [
    (plate("negative", 0), 4, {"state": "negative", "organism": "rods"}),
    (
        plate("positive", 12),
        4,
        {"state": "positive", "organism": "rods", "colonies": 12, "too_many": False},
    ),
    (
        plate("positive", None),
        4,
        {"state": "positive", "organism": "rods", "colonies": None, "too_many": True},
    ),
    (
        plate(
            "positive",
            7,
            DishCount(dilution=1, volume_ml=0.5, colonies=7),
            DishCount(dilution=10, volume_ml=1, colonies=None),
        ),
        4,
        {
            "state": "positive",
            "organism": "rods",
            "colonies": 7,
            "too_many": False,
            "volume_ml": 0.5,
            "dilution": None,
            "colonies_2": None,
            "too_many_2": True,
            "volume_ml_2": 1,
            "dilution_2": 10,
        },
    ),
]


@pytest.mark.parametrize("read, rows, typed", TYPED, ids=["none", "number", "many", "dishes"])
def test_a_reading_comes_back_as_it_was_typed(
    read: Plate, rows: int, typed: dict[str, Any]
) -> None:
    assert reading_as_typed(read) == (rows, typed)


def test_as_many_rows_come_back_as_there_are_dishes() -> None:
    dish = DishCount(dilution=1, volume_ml=1, colonies=0)
    rows = [reading_as_typed(plate("negative", 0, *[dish] * n))[0] for n in (3, 4, 5, 24, 25)]
    assert rows == [4, 4, 5, 24, 24]


def test_a_dish_that_is_not_diluted_leaves_its_dilution_blank() -> None:
    assert as_typed(DishCount(dilution=1, volume_ml=2)) == {"volume_ml": 2, "dilution": None}
    assert as_typed(DishCount(dilution=1.5, volume_ml=2)) == {"volume_ml": 2, "dilution": 1.5}

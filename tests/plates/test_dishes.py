"""A plate read dish by dish: what is recorded, what comes of it, what is refused."""

from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.plates import actions
from brewhygiene.plates.growth import dish_words, growth_of
from brewhygiene.plates.models import DishCount, Plate
from brewhygiene.refusals import Refusal
from brewhygiene.science.counting.colonies import Dish
from tests.board.scenes import HOUR, Now
from tests.factories import acting, make_point, make_vessel

COLONIES = "Choose positive: there are colonies."
NO_VOLUME = "Enter the volume on this dish in mL."
pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def cellar() -> Now:
    return Now()


def pending(cellar: Now, *, days_ago: int = 8, **values: Any) -> Plate:
    turnaround = cellar.emptied(now=cellar.at(days_ago * DAY + HOUR), vessel=make_vessel())
    return cellar.plate_sent(turnaround, ago=days_ago * DAY, **values)


def read(cellar: Now, plate: Plate, **values: Any) -> Plate:
    return actions.read_plate(by=acting(cellar.brewer, now=cellar.now), plate=plate, **values)


def post(cellar: Now, plate: Plate, **values: object) -> HttpResponse:
    client = Client()
    client.force_login(cellar.brewer)
    return client.post(reverse("plates:read", args=[plate.pk]), values, follow=True)


def text_of(response: HttpResponse) -> str:
    return response.content.decode().replace("&#x27;", "'")


def swab(cellar: Now, **values: Any) -> Plate:
    turnaround = cellar.emptied(now=cellar.at(9 * DAY), vessel=make_vessel(points=0))
    point = make_point(turnaround.vessel, sample_kind="surface", area_cm2=25)
    return cellar.plate_sent(turnaround, ago=8 * DAY, point=point, **values)


# --- the verb ---


def test_dishes_say_state_and_colonies_and_are_in_the_ledger(cellar: Now) -> None:
    plate = read(cellar, pending(cellar), dishes=[Dish(1, 1, 35), Dish(10, 1, None)])
    assert (plate.state, plate.colonies) == ("positive", 35)
    kept = DishCount.objects.values_list("dilution", "volume_ml", "colonies")
    assert list(kept) == [(1, 1, 35), (10, 1, None)]
    assert Entry.objects.get(verb="read plate").values["dishes"] == [
        {"dilution": 1, "volume_ml": 1, "colonies": 35},
        {"dilution": 10, "volume_ml": 1, "colonies": None},
    ]


def test_empty_dishes_are_negative_with_a_bound(cellar: Now) -> None:
    plate = read(cellar, pending(cellar), dishes=[Dish(1, 100, 0), Dish(1, 100, 0)])
    assert (plate.state, plate.colonies) == ("negative", 0)
    growth = growth_of(plate)
    assert growth is not None
    assert growth.words == "none found in 200 mL: below 0.015 CFU per mL with 95 % confidence"


def test_reading_without_dishes_has_a_number_and_no_cfu(cellar: Now) -> None:
    plate = read(cellar, pending(cellar), state="positive", colonies=12)
    assert (growth_of(plate), plate.colony_words) == (None, "12 colonies")
    assert DishCount.objects.count() == 0


def test_too_many_to_count_without_a_volume_is_positive_without_a_number(cellar: Now) -> None:
    plate = read(cellar, pending(cellar), state="positive", too_many=True)
    assert (plate.colonies, plate.colony_words) == (None, "too many colonies to count")


def test_low_count_is_said_to_be_about(cellar: Now) -> None:
    growth = growth_of(read(cellar, pending(cellar), dishes=[Dish(1, 1, 3)]))
    assert growth is not None
    assert growth.words == "about 3 CFU per mL (0.62 to 8.8)"
    assert growth.note.startswith("An estimate, because no countable dish has 10 colonies")


def test_all_dishes_too_full_are_bounded_from_below(cellar: Now) -> None:
    growth = growth_of(read(cellar, pending(cellar), dishes=[Dish(1, 1, None)]))
    assert growth is not None
    assert (growth.words, growth.value) == ("too many to count: more than 270 CFU per mL", None)


def test_swab_is_counted_by_the_points_area(cellar: Now) -> None:
    plate = swab(cellar, suspension_ml=10)
    assert (plate.suspension_ml, plate.area_cm2) == (10, 25)
    growth = growth_of(read(cellar, plate, dishes=[Dish(1, 1, 20)]))
    assert growth is not None
    assert growth.words == "800 CFU per 100 cm² (490 to 1200)"


def test_empty_swab_is_bounded_by_area(cellar: Now) -> None:
    plate = read(cellar, swab(cellar, suspension_ml=10, area_cm2=100), dishes=[Dish(1, 1, 0)])
    growth = growth_of(plate)
    assert growth is not None
    assert growth.words == (
        "none found in 1 mL of the swab's liquid: below 30 CFU per 100 cm² with 95 % confidence"
    )


@pytest.mark.parametrize(
    "values, field, message",
    [
        (
            {"state": "negative", "dishes": [Dish(1, 1, 2)]},
            "state",
            COLONIES,
        ),
        (
            {"state": "positive", "dishes": [Dish(1, 1, 0)]},
            "colonies",
            "Enter the number of colonies, or choose negative. Every dish has 0.",
        ),
        ({"state": "negative", "too_many": True}, "state", COLONIES),
        ({"dishes": [Dish(1, 0, 2)]}, "colonies", "The volume on the dish is 0 mL"),
        ({"dishes": [Dish(10, 1, None), Dish(1, 1, 0)]}, "colonies", "Some dishes are too full"),
        ({"dishes": [Dish(1, 1, 1)] * 25}, None, "Enter at most 24 dishes."),
        ({}, "state", "Choose negative or positive."),
    ],
)
def test_reading_that_cannot_be_is_refused_and_nothing_written(
    cellar: Now, values: dict[str, Any], field: str | None, message: str
) -> None:
    plate = pending(cellar)
    with pytest.raises(Refusal) as refused:
        read(cellar, plate, **values)
    assert refused.value.field == field
    assert refused.value.message.startswith(message)
    plate.refresh_from_db()
    assert (plate.state, DishCount.objects.count()) == ("pending", 0)


def test_empty_dishes_before_their_day_are_refused(cellar: Now) -> None:
    plate = pending(cellar, days_ago=2)
    with pytest.raises(Refusal) as refused:
        read(cellar, plate, dishes=[Dish(1, 1, 0)])
    assert refused.value.code == "too_early"


@pytest.mark.parametrize(
    "kind, values, field",
    [
        ("rinse", {"suspension_ml": 10}, "suspension_ml"),
        ("rinse", {"area_cm2": 100}, "area_cm2"),
        ("surface", {"area_cm2": 100}, "suspension_ml"),
        ("surface", {"suspension_ml": 0}, "suspension_ml"),
        ("surface", {"suspension_ml": 10, "area_cm2": 20_000}, "area_cm2"),
    ],
)
def test_swab_that_cannot_be_is_not_sent(
    cellar: Now, kind: str, values: dict[str, float], field: str
) -> None:
    turnaround = cellar.emptied(now=cellar.at(9 * DAY), vessel=make_vessel(points=0))
    area = {"area_cm2": 25} if kind == "surface" else {}
    point = make_point(turnaround.vessel, sample_kind=kind, **area)
    with pytest.raises(Refusal) as refused:
        cellar.plate_sent(turnaround, ago=8 * DAY, point=point, **values)
    assert (refused.value.field, Plate.objects.count()) == (field, 0)


# --- the form ---


def test_nothing_grew_takes_one_tap_as_ever(cellar: Now) -> None:
    plate = pending(cellar)
    assert "Reading recorded: negative." in text_of(post(cellar, plate, state="negative"))
    plate.refresh_from_db()
    assert (plate.state, DishCount.objects.count()) == ("negative", 0)


def test_nothing_grew_with_the_volume_needs_no_count(cellar: Now) -> None:
    text = text_of(post(cellar, pending(cellar), state="negative", volume_ml="100"))
    assert "none found in 100 mL: below 0.03 CFU per mL with 95 % confidence" in text


def test_several_dishes_are_typed_in_rows(cellar: Now) -> None:
    plate = pending(cellar)
    typed = {"rows": "4"}
    dishes = (("1", "100", "168"), ("1", "100", "215"), ("1", "1000", "14"), ("1,0", "1000", "25"))
    for number, dish in enumerate(dishes, start=1):
        after = f"_{number}" if number > 1 else ""
        for part, value in zip(("volume_ml", "dilution", "colonies"), dish, strict=True):
            typed[part + after] = value
    text = text_of(post(cellar, plate, **typed))
    assert f"Positive: {plate.vessel.name} is held." in text
    assert "19000 CFU per mL (17000 to 21000)" in text
    plate.refresh_from_db()
    assert plate.colonies == 422
    assert dish_words(plate.dishes.all())[0] == "168 colonies on 1 mL, diluted 100 times"


def test_more_dishes_are_offered_without_losing_what_was_typed(cellar: Now) -> None:
    plate = pending(cellar)
    values = {"more": "yes", "rows": "4", "volume_ml_2": "odd", "colonies": "7", "too_many_3": "on"}
    response = post(cellar, plate, **values, organism="rods")
    text = text_of(response)
    assert response.status_code == 200
    assert text.count('<fieldset class="dish">') == 8
    assert ('value="odd"' in text, 'value="7"' in text, 'value="rods"' in text) == (True,) * 3
    assert 'name="rows" value="8"' in text
    assert 'id="id_too_many_3" checked' in text
    plate.refresh_from_db()
    assert plate.state == "pending"


def test_first_dish_has_the_volume_that_the_point_had_last(cellar: Now) -> None:
    first = pending(cellar)
    read(cellar, first, dishes=[Dish(10, 0.5, 12)])
    again = cellar.plate_sent(first.turnaround, ago=7.5 * DAY)
    client = Client()
    client.force_login(cellar.brewer)
    text = text_of(client.get(reverse("plates:read", args=[again.pk])))
    assert ('value="0.5"' in text, 'value="10"' in text) == (True, True)


@pytest.mark.parametrize(
    "values, message",
    [
        ({}, "Choose negative or positive."),
        ({"volume_ml": "1"}, "Choose negative or positive."),
        ({"colonies": "5"}, "Choose negative or positive."),
        ({"state": "positive", "volume_ml": "1"}, "Enter the number of colonies, e.g. 0."),
        (
            {"state": "positive", "colonies": "5", "dilution": "10"},
            NO_VOLUME,
        ),
        ({"state": "positive", "colonies_2": "5"}, NO_VOLUME),
        (
            {"state": "positive", "colonies": "5", "too_many": "on"},
            "Enter a number or tick “too many to count”, not both.",
        ),
        (
            {"colonies": "5", "volume_ml": "1", "colonies_2": "x", "volume_ml_2": "1"},
            "“x” is not a whole number. Enter digits only, e.g. 12.",
        ),
        ({"colonies": "5", "volume_ml": "0"}, "0 mL is too low. Enter at least 0.001 mL."),
        ({"colonies": "5", "volume_ml": "1", "dilution": "0.1"}, "0.1 times is too low"),
        (
            {"state": "negative", "volume_ml": "1", "colonies": "5"},
            COLONIES,
        ),
    ],
)
def test_form_refuses_beside_its_field_and_keeps_what_was_typed(
    cellar: Now, values: dict[str, str], message: str
) -> None:
    plate = pending(cellar)
    response = post(cellar, plate, **values)
    text = text_of(response)
    assert response.status_code == 422
    assert f'<p class="error">{message}' in text
    for name, value in values.items():
        assert name in ("state", "too_many") or f'value="{value}"' in text
    plate.refresh_from_db()
    assert (plate.state, DishCount.objects.count()) == ("pending", 0)


@pytest.mark.parametrize("rows", ["many", "-3", "99999", "²", ""])
def test_number_of_rows_that_is_none_is_taken_for_a_sane_one(cellar: Now, rows: str) -> None:
    plate = pending(cellar)
    assert post(cellar, plate, state="negative", rows=rows).status_code == 200
    plate.refresh_from_db()
    assert plate.state == "negative"


def test_send_asks_a_swabs_liquid_and_area_only_where_there_is_a_surface(cellar: Now) -> None:
    client = Client()
    client.force_login(cellar.hand)
    turnaround = cellar.cleaned_ago(HOUR)
    address = reverse("plates:send", args=[turnaround.pk])
    assert "Suspension volume of the swab" not in text_of(client.get(address))
    point = make_point(cellar.vessel, sample_kind="surface", area_cm2=25, name="Manway", order=4)
    assert "Suspension volume of the swab" in text_of(client.get(address))
    sent = {"point": point.pk, "medium": "WLN", "neutraliser": "none", "suspension_ml": "10"}
    client.post(address, sent)
    assert Plate.objects.values_list("suspension_ml", "area_cm2").get() == (10, 25)


def test_due_list_lists_the_fills_at_risk(cellar: Now) -> None:
    turnaround = cellar.released_ago(9 * DAY)
    cellar.filled(turnaround, now=cellar.at(9 * DAY - HOUR / 2), batch="P-12")
    plate = cellar.plate_sent(turnaround, ago=9 * DAY - HOUR)
    read(cellar, plate, dishes=[Dish(1, 1, 35)])
    client = Client()
    client.force_login(cellar.hand)
    text = text_of(client.get(reverse("plates:due")))
    assert "MRS: 35 CFU per mL (24 to 49)" in text
    assert "At risk: Harrow Pale (invented) P-12, filled" in text

"""A misread plate set right: the first reading stays, a positive made negative is signed."""

from datetime import timedelta
from typing import Any

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.plates.closing.actions import resolve_plate
from brewhygiene.plates.corrections.actions import correct_plate
from brewhygiene.plates.growth import growth_of
from brewhygiene.plates.models import Plate, PlateCorrection
from brewhygiene.refusals import NotAllowed, Refusal
from brewhygiene.release.queries import state_of
from brewhygiene.release.status import Code
from brewhygiene.science.counting.colonies import Dish
from tests.board.scenes import HOUR, Now
from tests.factories import PASSWORD, acting, made_good, make_user

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def cellar() -> Now:
    return Now()


def plate_of(cellar: Now, state: str, *, days_ago: int = 9) -> Plate:
    turnaround = cellar.released_ago(days_ago * DAY)
    cellar.filled(turnaround, now=cellar.at(days_ago * DAY - HOUR / 2), batch="P-12")
    plate = cellar.plate_sent(turnaround, ago=days_ago * DAY - HOUR)
    return cellar.plate_read(plate, state) if state else plate


def correct(cellar: Now, plate: Plate, **values: Any) -> PlateCorrection:
    return correct_plate(
        by=acting(cellar.brewer, now=cellar.now),
        plate=plate,
        **{"reason": "Read the dish of another tank", **values},
    )


def client_of(user: Any) -> Client:
    client = Client()
    client.force_login(user)
    return client


def post(cellar: Now, plate: Plate, **values: object) -> HttpResponse:
    address = reverse("plates:correct", args=[plate.pk])
    return client_of(cellar.brewer).post(address, values, follow=True)


def text_of(response: HttpResponse) -> str:
    return response.content.decode().replace("&#x27;", "'")


def code_of(cellar: Now) -> str:
    return state_of(cellar.vessel, now=cellar.now).status.code


def test_positive_becomes_negative_under_a_signature_and_both_stay(cellar: Now) -> None:
    plate = plate_of(cellar, "positive")
    assert code_of(cellar) == Code.HELD
    correction = correct(cellar, plate, state="negative", password=PASSWORD)
    plate.refresh_from_db()
    assert (plate.state, plate.colonies, plate.organism) == ("negative", 0, "")
    assert (correction.was_state, correction.was_colonies, correction.was_organism) == (
        "positive",
        4,
        "rods",
    )
    assert correction.signature is not None
    assert correction.signature.printed_name == "Mara Oduya"
    assert code_of(cellar) == Code.IN_USE
    entry = Entry.objects.get(verb="correct plate")
    assert (entry.values["was"], entry.values["is"], entry.values["reason"]) == (
        {"state": "positive", "colonies": 4},
        {"state": "negative", "colonies": 0},
        "Read the dish of another tank",
    )


def test_negative_becomes_positive_and_holds_the_vessel_at_once(cellar: Now) -> None:
    plate = plate_of(cellar, "negative")
    assert code_of(cellar) == Code.IN_USE
    correct(cellar, plate, state="positive", colonies=2)
    assert code_of(cellar) == Code.HELD
    at_risk = Entry.objects.get(verb="correct plate").values["fills_at_risk"]
    assert [words.split(": ")[1] for words in at_risk] == ["Harrow Pale (invented) P-12"]


def test_dishes_of_the_first_reading_stay_but_count_no_more(cellar: Now) -> None:
    plate = plate_of(cellar, "")
    from brewhygiene.plates.actions import read_plate

    read_plate(by=acting(cellar.brewer, now=cellar.now), plate=plate, dishes=[Dish(1, 1, 35)])
    correction = correct(cellar, plate, dishes=[Dish(1, 1, 53)])
    plate = Plate.objects.get(pk=plate.pk)
    assert growth_of(plate).words == "53 CFU per mL (40 to 69)"
    assert [dish.colonies for dish in correction.dishes_before.all()] == [35]
    assert plate.dishes.count() == 2


@pytest.mark.parametrize(
    "state, values, field",
    [
        ("positive", {"state": "negative"}, "password"),
        ("positive", {"state": "negative", "password": "guess"}, "password"),
        ("positive", {"state": "positive", "colonies": 5, "reason": " "}, "reason"),
        ("positive", {"state": "positive", "colonies": 0}, "colonies"),
        ("negative", {"state": ""}, "state"),
        ("negative", {"state": "negative"}, None),
        ("", {"state": "negative"}, None),
    ],
)
def test_correction_that_cannot_be_is_refused(
    cellar: Now, state: str, values: dict[str, Any], field: str | None
) -> None:
    plate = plate_of(cellar, state)
    with pytest.raises(Refusal) as refused:
        correct(cellar, plate, **values)
    assert (refused.value.field, PlateCorrection.objects.count()) == (field, 0)


def test_negative_before_its_day_is_refused_here_too(cellar: Now) -> None:
    plate = plate_of(cellar, "positive", days_ago=3)
    with pytest.raises(Refusal) as refused:
        correct(cellar, plate, state="negative", password=PASSWORD)
    assert refused.value.code == "too_early"


def test_closed_positive_stays_positive_but_its_count_may_change(cellar: Now) -> None:
    plate = plate_of(cellar, "positive")
    resolve_plate(
        by=acting(cellar.brewer, now=cellar.now),
        plate=plate,
        resolution="Gasket renewed",
        password=PASSWORD,
        **made_good(plate, now=cellar.now),
    )
    with pytest.raises(Refusal) as refused:
        correct(cellar, plate, state="negative", password=PASSWORD)
    assert refused.value.code == "closed"
    correct(cellar, plate, state="positive", colonies=14)
    plate.refresh_from_db()
    assert (plate.colonies, plate.open_positive) == (14, False)


def test_correction_is_for_those_who_read_plates(cellar: Now) -> None:
    plate = plate_of(cellar, "negative")
    with pytest.raises(NotAllowed):
        correct_plate(by=acting(cellar.hand), plate=plate, state="positive", reason="x")
    address = reverse("plates:correct", args=[plate.pk])
    people = (cellar.hand, cellar.brewer, cellar.owner, make_user())
    assert [client_of(u).get(address).status_code for u in people] == [403, 200, 403, 403]
    assert Client().get(address).status_code == 302


def test_page_shows_the_reading_as_typed_and_the_first_one_after(cellar: Now) -> None:
    plate = plate_of(cellar, "positive")
    form = text_of(client_of(cellar.brewer).get(reverse("plates:correct", args=[plate.pk])))
    assert ('value="4"' in form, 'value="rods"' in form) == (True, True)
    page = text_of(post(cellar, plate, state="negative", reason="Wrong dish", password=PASSWORD))
    assert "Correction saved. The first reading stays on record." in page
    before = page[page.index("Earlier readings") :]
    assert "<strong>4 colonies</strong>, rods" in before
    assert "to nothing grew: Wrong dish. Signed by Mara Oduya" in before


def test_page_refuses_a_wrong_password_and_keeps_the_rest(cellar: Now) -> None:
    plate = plate_of(cellar, "positive")
    response = post(cellar, plate, state="negative", reason="Wrong dish", password="guess-word")
    page = text_of(response)
    assert response.status_code == 422
    assert "This is not your password. Nothing was signed." in page
    assert 'value="Wrong dish"' in page
    assert "guess-word" not in page
    assert PlateCorrection.objects.count() == 0


def test_password_does_not_come_back_when_more_dishes_are_asked_for(cellar: Now) -> None:
    plate = plate_of(cellar, "positive")
    page = text_of(post(cellar, plate, more="yes", reason="Wrong dish", password=PASSWORD))
    assert PASSWORD not in page
    assert page.count('<fieldset class="dish">') == 8


def test_wrong_reading_made_positive_warns_of_the_hold(cellar: Now) -> None:
    plate = plate_of(cellar, "negative")
    page = text_of(post(cellar, plate, state="positive", colonies="3", reason="Looked too soon"))
    assert f"Positive: {cellar.vessel.name} is held." in page
    assert "Harrow Pale (invented) P-12" in page[page.index('id="at-risk"') :]


def test_plate_that_nobody_read_is_not_corrected(cellar: Now) -> None:
    plate = plate_of(cellar, "")
    page = text_of(client_of(cellar.brewer).get(reverse("plates:correct", args=[plate.pk])))
    assert "This plate is not read yet." in page
    assert "<form" not in page.split("<main")[1]

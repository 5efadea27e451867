"""One's own PIN and password."""

import pytest
from django.test import Client

from brewhygiene.people import actions
from brewhygiene.people.models import User
from brewhygiene.people.signatures import WRONG_MOST
from tests.factories import PASSWORD, acting, make_cellar_hand

pytestmark = pytest.mark.django_db


@pytest.fixture
def jonas(client: Client) -> User:
    person = make_cellar_hand(username="jonas", full_name="Jonas Feld", initials="JF")
    client.force_login(person)
    return person


def test_pin_is_set_with_the_password(client: Client, jonas: User) -> None:
    given = {"new_pin": "5093", "new_pin_again": "5093", "password": PASSWORD}
    assert client.post("/pin/", given)["Location"] == "/pin/"
    jonas.refresh_from_db()
    assert jonas.pin_hash != ""


@pytest.mark.parametrize(
    "given, errors",
    [
        (
            {"new_pin": "5093", "new_pin_again": "5093", "password": "nonsense"},
            {"password": ["This is not your password. Nothing was signed."]},
        ),
        (
            {"new_pin": "5093", "new_pin_again": "2581", "password": PASSWORD},
            {"new_pin_again": ["The two are different. Enter both again."]},
        ),
        (
            {"new_pin": "258", "new_pin_again": "258", "password": PASSWORD},
            {"new_pin": ["Enter 4 to 12 digits."]},
        ),
    ],
)
def test_pin_that_cannot_be_is_refused(
    client: Client, jonas: User, given: dict, errors: dict
) -> None:
    response = client.post("/pin/", given)
    assert (response.status_code, response.context["form"].errors) == (422, errors)
    jonas.refresh_from_db()
    assert jonas.pin_hash == ""


def test_pin_is_removed(client: Client, jonas: User) -> None:
    actions.set_own_pin(by=acting(jonas), new_pin="5093", password=PASSWORD)
    client.post("/pin/", {"remove": "1"})
    jonas.refresh_from_db()
    assert jonas.pin_hash == ""


def test_right_password_is_taken_after_wrong_ones(client: Client, jonas: User) -> None:
    given = {"new_pin": "5093", "new_pin_again": "5093", "password": "nonsense"}
    for _ in range(WRONG_MOST - 1):
        assert client.post("/pin/", given).status_code == 422
    assert client.post("/pin/", {**given, "password": PASSWORD}).status_code == 302
    assert client.post("/pin/", given).status_code == 422  # and the count has begun again


def test_session_in_which_somebody_guesses_ends(client: Client, jonas: User) -> None:
    given = {"new_pin": "5093", "new_pin_again": "5093", "password": "nonsense"}
    codes = [client.post("/pin/", given).status_code for _ in range(WRONG_MOST)]
    assert codes == [422] * (WRONG_MOST - 1) + [403]
    assert client.get("/pin/")["Location"] == "/sign-in/?next=/pin/"
    jonas.refresh_from_db()
    assert jonas.pin_hash == ""


def test_own_password_is_changed_and_the_session_goes_on(client: Client, jonas: User) -> None:
    given = {
        "password": PASSWORD,
        "new_password": "wet-gloves-77",
        "new_password_again": "wet-gloves-77",
    }
    assert client.post("/password/", given)["Location"] == "/pin/"
    assert client.get("/pin/").status_code == 200
    jonas.refresh_from_db()
    assert jonas.check_password("wet-gloves-77")


def test_password_that_another_set_is_changed_on_this_page(client: Client, jonas: User) -> None:
    User.objects.filter(pk=jonas.pk).update(password_set_by="Mara Oduya")
    given = {
        "password": PASSWORD,
        "new_password": "wet-gloves-77",
        "new_password_again": "wet-gloves-77",
    }
    assert client.post("/password/", given)["Location"] == "/pin/"
    jonas.refresh_from_db()
    assert (jonas.check_password("wet-gloves-77"), jonas.password_set_by) == (True, "")


def test_changed_password_signs_other_tablets_out(client: Client, jonas: User) -> None:
    other = Client()
    other.force_login(jonas)
    actions.change_own_password(by=acting(jonas), new_password="wet-gloves-77", password=PASSWORD)
    assert other.get("/pin/").status_code == 302


@pytest.mark.parametrize(
    "given, errors",
    [
        (
            {"password": "nonsense", "new_password": "wet-gloves-77"},
            {"password": ["This is not your password. Nothing was signed."]},
        ),
        (
            {"password": PASSWORD, "new_password": "wet"},
            {
                "new_password": [
                    "This password is too short. It must contain at least 10 characters."
                ]
            },
        ),
    ],
)
def test_password_that_cannot_be_is_refused(
    client: Client, jonas: User, given: dict, errors: dict
) -> None:
    response = client.post("/password/", {**given, "new_password_again": given["new_password"]})
    assert (response.status_code, response.context["form"].errors) == (422, errors)
    jonas.refresh_from_db()
    assert jonas.check_password(PASSWORD)


@pytest.mark.parametrize("address", ["/pin/", "/password/"])
def test_own_pages_ask_who_it_is(address: str) -> None:
    assert Client().get(address)["Location"] == f"/sign-in/?next={address}"

"""Changing hands on a shared tablet: which tablets, whose PIN, how many tries."""

import pytest
from axes.models import AccessAttempt
from django.conf import settings
from django.test import Client

from brewhygiene.people import actions
from brewhygiene.people.models import User
from brewhygiene.people.signing_in.tablets import COOKIE
from tests.factories import PASSWORD, acting, make_cellar_hand, make_head_brewer

pytestmark = pytest.mark.django_db
PIN = "2580"


@pytest.fixture
def jonas() -> User:
    person = make_cellar_hand(username="jonas", full_name="Jonas Feld", initials="JF")
    actions.set_own_pin(by=acting(person), new_pin=PIN)
    return User.objects.get(pk=person.pk)


@pytest.fixture
def mara() -> User:
    return make_head_brewer(username="mara", full_name="Mara Oduya", initials="MO")


@pytest.fixture
def tablet(client: Client, mara: User) -> Client:
    """A tablet on which Mara once signed in by password, and out again."""
    client.post("/sign-in/", {"username": "mara", "password": PASSWORD})
    client.post("/sign-out/")
    return client


def hand_over(client: Client, person: User, **given):
    return client.post("/switch/", {"person": person.pk, **given})


def signed_in_as(client: Client) -> str | None:
    return client.session.get("_auth_user_id")


def test_stranger_sees_only_the_password_form(client: Client, jonas: User) -> None:
    assert client.get("/switch/")["Location"] == "/sign-in/"
    assert hand_over(client, jonas, pin=PIN)["Location"] == "/sign-in/"
    assert signed_in_as(client) is None


def test_forged_cookie_makes_no_known_tablet(client: Client, jonas: User) -> None:
    client.cookies[COOKIE] = "0123456789abcdef:1abcde:forged"
    assert client.get("/switch/")["Location"] == "/sign-in/"


def test_known_tablet_shows_everybody_who_may_sign_in(
    tablet: Client, jonas: User, mara: User
) -> None:
    make_cellar_hand(is_active=False)
    assert list(tablet.get("/switch/").context["people"]) == [jonas, mara]


def test_cookie_of_a_known_tablet_is_out_of_reach_of_scripts(tablet: Client) -> None:
    cookie = tablet.cookies[COOKIE]
    assert (cookie["httponly"], cookie["samesite"]) == (True, "Lax")


def test_pin_signs_in_and_goes_on_with_the_page(tablet: Client, jonas: User) -> None:
    response = hand_over(tablet, jonas, pin=PIN, next="/set-up/")
    assert (response.status_code, response["Location"]) == (302, "/set-up/")
    assert signed_in_as(tablet) == str(jonas.pk)


def test_tablet_passes_from_one_to_the_other(client: Client, jonas: User, mara: User) -> None:
    client.force_login(mara)
    assert hand_over(client, jonas, pin=PIN).status_code == 302
    assert signed_in_as(client) == str(jonas.pk)


def test_pin_does_not_make_a_tablet_known(client: Client, jonas: User, mara: User) -> None:
    client.force_login(mara)
    hand_over(client, jonas, pin=PIN)
    assert COOKIE not in client.cookies


def test_password_works_instead_of_the_pin(tablet: Client, jonas: User) -> None:
    assert hand_over(tablet, jonas, password=PASSWORD).status_code == 302
    assert signed_in_as(tablet) == str(jonas.pk)


@pytest.mark.parametrize(
    "given, errors",
    [
        ({"pin": "9999"}, {"pin": ["That is not Jonas Feld's PIN."]}),
        ({"pin": ""}, {"pin": ["Type the PIN."]}),
        ({"password": ""}, {"password": ["Type the password."]}),
        ({"password": PIN}, {"password": ["That is not Jonas Feld's password."]}),
        ({"pin": PASSWORD}, {"pin": ["That is not Jonas Feld's PIN."]}),
    ],
)
def test_what_is_wrong_is_said_beside_its_box(
    tablet: Client, jonas: User, given: dict, errors: dict
) -> None:
    response = hand_over(tablet, jonas, **given)
    form = response.context[f"{next(iter(given))}_form"]
    assert (response.status_code, form.errors) == (422, errors)
    assert signed_in_as(tablet) is None


def test_person_without_a_pin_is_not_let_in_by_an_empty_one(tablet: Client, mara: User) -> None:
    assert hand_over(tablet, mara, pin="0").status_code == 422


def test_person_who_left_cannot_take_over(tablet: Client, jonas: User) -> None:
    User.objects.filter(pk=jonas.pk).update(is_active=False)
    assert hand_over(tablet, jonas, pin=PIN).status_code == 404


def test_guessing_a_pin_locks_as_guessing_a_password_does(tablet: Client, jonas: User) -> None:
    for number in range(settings.AXES_FAILURE_LIMIT - 1):
        assert hand_over(tablet, jonas, pin=f"70{number:02d}").status_code == 422
    assert hand_over(tablet, jonas, pin="7099").status_code == 429
    assert hand_over(tablet, jonas, pin=PIN).status_code == 429
    assert hand_over(tablet, jonas, password=PASSWORD).status_code == 429
    assert signed_in_as(tablet) is None


def test_guessed_pins_are_kept_nowhere(tablet: Client, jonas: User) -> None:
    hand_over(tablet, jonas, pin="7071")
    kept = AccessAttempt.objects.get()
    assert kept.username == "jonas"
    assert "7071" not in kept.post_data


def test_pin_of_who_looks_after_the_server_opens_nothing(tablet: Client, jonas: User) -> None:
    User.objects.filter(pk=jonas.pk).update(is_staff=True)
    assert hand_over(tablet, jonas, pin=PIN).status_code == 422


def test_session_by_pin_ends_with_the_keys_of_the_server(tablet: Client, jonas: User) -> None:
    hand_over(tablet, jonas, pin=PIN)
    User.objects.filter(pk=jonas.pk).update(is_staff=True)
    assert tablet.get("/admin/")["Location"] == "/admin/login/?next=/admin/"
    assert tablet.get("/pin/").status_code == 302


def test_page_leads_to_a_change_of_hands_and_back(client: Client, mara: User, jonas: User) -> None:
    client.force_login(mara)
    page = client.get("/set-up/people/?a=1&b=2").content.decode()
    assert '"/switch/?next=%2Fset-up%2Fpeople%2F%3Fa%3D1%26b%3D2"' in page
    asked = client.get("/switch/", {"next": "/set-up/people/?a=1&b=2"})
    assert asked.context["next"] == "/set-up/people/?a=1&b=2"


@pytest.mark.parametrize("page", ["/switch/", "/switch/?person=1", "/sign-in/", "//elsewhere"])
def test_change_of_hands_leads_on_and_not_in_a_circle(
    tablet: Client, jonas: User, page: str
) -> None:
    assert hand_over(tablet, jonas, pin=PIN, next=page)["Location"] == "/"


def test_pin_signs_no_change_of_people(tablet: Client, mara: User) -> None:
    """A PIN opens a manager's page, but the change takes the password."""
    actions.set_own_pin(by=acting(mara), new_pin=PIN)
    hand_over(tablet, mara, pin=PIN)
    response = tablet.post(
        "/set-up/people/add/",
        {
            "full_name": "Priya Lindqvist",
            "initials": "PL",
            "username": "priya",
            "roles": ["cellar"],
            "new_password": "sample-valve",
            "new_password_again": "sample-valve",
            "password": PIN,
        },
    )
    assert response.status_code == 422
    assert list(response.context["form"].errors) == ["password"]
    assert not User.objects.filter(username="priya").exists()


@pytest.mark.parametrize("person", ["0", "999999", "99999999999999999999", "x", "-1"])
def test_nobody_of_that_number_is_no_error_of_ours(tablet: Client, person: str) -> None:
    assert tablet.get("/switch/", {"person": person}).status_code in (200, 404)

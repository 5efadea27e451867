"""Changing hands on a shared tablet: which tablets, whose PIN, how many tries."""

import pytest
from axes.models import AccessAttempt
from django.test import Client

from brewhygiene.people import actions
from brewhygiene.people.models import PinWait, User
from brewhygiene.people.tablets import COOKIE
from tests import clock
from tests.factories import PASSWORD, acting, make_cellar_hand, make_head_brewer

pytestmark = pytest.mark.django_db
PIN = "5093"


@pytest.fixture
def jonas() -> User:
    person = make_cellar_hand(username="jonas", full_name="Jonas Feld", initials="JF")
    actions.set_own_pin(by=acting(person), new_pin=PIN, password=PASSWORD)
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
        ({"pin": "9999"}, {"pin": ["This is not the PIN of Jonas Feld."]}),
        ({"pin": ""}, {"pin": ["Enter the PIN."]}),
        ({"password": ""}, {"password": ["Enter the password."]}),
        ({"password": PIN}, {"password": ["This is not the password of Jonas Feld."]}),
        ({"pin": PASSWORD}, {"pin": ["This is not the PIN of Jonas Feld."]}),
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


def wrong_pins(client: Client, person: User, times: int) -> list[str]:
    """What is said after each of so many wrong PINs, one right after the other."""
    return [
        hand_over(client, person, pin="7099").context["pin_form"].errors["pin"][0]
        for _ in range(times)
    ]


def test_third_wrong_pin_is_free_and_the_fourth_makes_it_wait(tablet: Client, jonas: User) -> None:
    said = wrong_pins(tablet, jonas, 4)
    assert said[:3] == ["This is not the PIN of Jonas Feld."] * 3
    assert said[3] == "Too many wrong PINs on this tablet. Wait 10 seconds, or use the password."


def test_right_pin_waits_too_and_the_try_does_not_begin_the_wait_again(
    tablet: Client, jonas: User
) -> None:
    wrong_pins(tablet, jonas, 4)
    until = PinWait.objects.get().until
    assert hand_over(tablet, jonas, pin=PIN).status_code == 422
    assert (PinWait.objects.get().until, PinWait.objects.get().failures) == (until, 4)
    with clock.standing_at(clock.Instant("after", until)):
        assert hand_over(tablet, jonas, pin=PIN).status_code == 302
    assert not PinWait.objects.exists()


def test_password_opens_a_tablet_whose_pin_waits(tablet: Client, jonas: User) -> None:
    wrong_pins(tablet, jonas, 6)
    assert hand_over(tablet, jonas, password=PASSWORD).status_code == 302


def test_wrong_pins_stop_neither_other_people_nor_other_tablets(
    tablet: Client, jonas: User, mara: User
) -> None:
    actions.set_own_pin(by=acting(mara), new_pin=PIN, password=PASSWORD)
    wrong_pins(tablet, jonas, 6)
    other = Client()
    other.post("/sign-in/", {"username": "mara", "password": PASSWORD})
    assert hand_over(other, jonas, pin=PIN).status_code == 302
    assert hand_over(tablet, mara, pin=PIN).status_code == 302


def test_wrong_pins_end_no_running_session_and_stop_no_signature(
    tablet: Client, mara: User
) -> None:
    actions.set_own_pin(by=acting(mara), new_pin=PIN, password=PASSWORD)
    desk = Client()
    desk.force_login(mara)
    wrong_pins(tablet, mara, 9)
    given = {"new_pin": "5180", "new_pin_again": "5180", "password": PASSWORD}
    assert desk.post("/pin/", given).status_code == 302


@pytest.mark.parametrize("person", ["9" * 30, "9" * 5000, "-1", "x", "\x00"])
def test_person_that_nobody_can_be_breaks_nothing(tablet: Client, person: str) -> None:
    assert tablet.get("/switch/", {"person": person}).status_code in (200, 404)
    assert tablet.post("/switch/", {"person": person, "pin": PIN}).status_code in (200, 404)


def test_tablet_keeps_its_mark_when_somebody_signs_in_by_password(
    tablet: Client, jonas: User
) -> None:
    wrong_pins(tablet, jonas, 4)
    tablet.post("/sign-in/", {"username": "mara", "password": PASSWORD})
    assert hand_over(tablet, jonas, pin=PIN).status_code == 422


def test_guessed_pins_are_kept_nowhere(tablet: Client, jonas: User) -> None:
    wrong_pins(tablet, jonas, 1)
    assert list(PinWait.objects.values_list("person__username", "failures")) == [("jonas", 1)]
    assert not AccessAttempt.objects.exists()


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
    actions.set_own_pin(by=acting(mara), new_pin=PIN, password=PASSWORD)
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

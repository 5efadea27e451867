"""A tablet at rest signs out; a page that follows by itself does not keep anybody in."""

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from brewhygiene.brewery.models import Brewery
from brewhygiene.people.models import User
from brewhygiene.people.signing_in.resting import AFTER_MIN
from tests import clock
from tests.factories import PASSWORD, make_brewery, make_head_brewer

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)
# What the script has first, and what the server gives it on top.
REST, GRACE = 15, 2


@pytest.fixture
def mara() -> User:
    make_brewery()
    return make_head_brewer(username="mara")


@pytest.fixture
def tablet(mara: User) -> Client:
    """An enrolled one, with Mara signed in."""
    client = Client()
    client.post("/sign-in/", {"username": "mara", "password": PASSWORD})
    client.post("/set-up/tablets/", {"name": "Cellar 1", "password": PASSWORD})
    return client


def is_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def look(client: Client, **headers: str) -> Any:
    return client.get("/pin/", headers=headers)


def test_enrolled_tablet_carries_its_rest_in_the_page(tablet: Client, mara: User) -> None:
    assert f'data-rest-s="{60 * REST}"' in look(tablet).content.decode()
    office = Client()
    office.post("/sign-in/", {"username": "mara", "password": PASSWORD})
    assert "data-rest-s" not in look(office).content.decode()


def test_session_ends_after_the_rest_and_the_scripts_minutes(tablet: Client) -> None:
    clock.move_on(timedelta(minutes=REST + GRACE))
    assert look(tablet).status_code == 200
    clock.move_on(timedelta(minutes=REST + GRACE, seconds=1))
    assert look(tablet)["Location"] == "/switch/?next=/pin/"
    assert not is_in(tablet)


def test_touch_begins_the_rest_anew(tablet: Client) -> None:
    for _ in range(4):
        clock.move_on(timedelta(minutes=REST))
        assert look(tablet).status_code == 200


@pytest.mark.parametrize("header", ["HX-Request", "Sec-Fetch-Mode"])
def test_page_that_asks_by_itself_is_no_touch(tablet: Client, header: str) -> None:
    said = {"HX-Request": "true", "Sec-Fetch-Mode": "cors"}[header]
    for _ in range(4):
        clock.move_on(timedelta(minutes=5))
        look(tablet, **{header: said})
    assert not is_in(tablet)


def test_sent_form_is_a_touch_even_by_script(tablet: Client) -> None:
    clock.move_on(timedelta(minutes=REST))
    tablet.post("/pin/", {"remove": "1"}, headers={"HX-Request": "true"})
    clock.move_on(timedelta(minutes=REST))
    assert look(tablet).status_code == 200


def test_what_the_tablet_delivers_by_itself_is_no_touch(tablet: Client) -> None:
    clock.move_on(timedelta(minutes=REST))
    tablet.post("/pin/", {"remove": "1"}, headers={"X-Kept-Late": "yes"})
    clock.move_on(timedelta(minutes=GRACE, seconds=1))
    assert look(tablet)["Location"] == "/switch/?next=/pin/"


def test_opened_page_is_a_touch_as_a_browser_says(tablet: Client) -> None:
    clock.move_on(timedelta(minutes=REST))
    look(tablet, **{"Sec-Fetch-Mode": "navigate"})
    clock.move_on(timedelta(minutes=REST))
    assert look(tablet).status_code == 200


def test_sending_a_form_late_asks_who_it_is_and_records_nothing(tablet: Client) -> None:
    clock.move_on(timedelta(minutes=REST + GRACE + 1))
    answer = tablet.post("/set-up/tablets/", {"name": "Late", "password": PASSWORD})
    assert answer["Location"].startswith("/switch/?next=")


def test_session_is_written_once_a_minute(tablet: Client, django_assert_num_queries: Any) -> None:
    look(tablet)
    clock.move_on(timedelta(seconds=50))
    with django_assert_num_queries(4):
        look(tablet)
    clock.move_on(timedelta(seconds=15))
    # The same, and the write of the session between its two savepoints.
    with django_assert_num_queries(7):
        look(tablet)


def test_brewery_that_chose_never_has_none(mara: User, tablet: Client) -> None:
    Brewery.objects.update(signs_out_after_min=None)
    tablet.post("/sign-out/")
    tablet.post("/sign-in/", {"username": "mara", "password": PASSWORD})
    assert AFTER_MIN not in tablet.session
    clock.move_on(timedelta(hours=10))
    assert look(tablet).status_code == 200


def test_sign_out_leads_to_names_and_back_to_the_page(tablet: Client) -> None:
    out = tablet.post("/sign-out/", {"next": "/sample/?a=1"})
    assert out["Location"] == "/switch/?next=%2Fsample%2F%3Fa%3D1"
    assert tablet.post("/sign-out/", {"next": "//elsewhere.example/"})["Location"] == "/switch/"


@pytest.mark.parametrize("minutes", ["0", "241", "soon"])
def test_rest_that_cannot_be_is_said_beside_its_box(tablet: Client, minutes: str) -> None:
    page = tablet.get("/set-up/brewery/")
    initial = {k: v for k, v in page.context["form"].initial.items() if v is not None}
    answer = tablet.post("/set-up/brewery/", {**initial, "signs_out_after_min": minutes})
    assert answer.status_code == 422
    assert "signs_out_after_min" in answer.context["form"].errors

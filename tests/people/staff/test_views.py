"""The people's set-up, tried by the owner, a cellar hand and a stranger."""

import pytest
from django.test import Client

from brewhygiene.people.models import User
from tests.factories import PASSWORD, make_cellar_hand, make_owner, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def tomas() -> User:
    return make_owner(username="tomas", full_name="Tomas Brandt", initials="TB")


@pytest.fixture
def jonas() -> User:
    return make_cellar_hand(username="jonas", full_name="Jonas Feld", initials="JF")


@pytest.fixture
def desk(client: Client, tomas: User) -> Client:
    """The owner, signed in."""
    client.force_login(tomas)
    return client


NEW = {
    "full_name": "Priya Lindqvist",
    "initials": "PL",
    "username": "priya",
    "roles": ["cellar"],
    "new_password": "sample-valve",
    "new_password_again": "sample-valve",
    "password": PASSWORD,
}


def test_owner_adds_a_person(desk: Client) -> None:
    assert desk.post("/set-up/people/add/", NEW)["Location"] == "/set-up/people/"
    assert User.objects.get(username="priya").full_name == "Priya Lindqvist"


def test_same_form_sent_twice_adds_one_person(desk: Client) -> None:
    for _ in range(2):
        response = desk.post("/set-up/people/add/", {**NEW, "key": "a" * 32})
        assert response.status_code == 302
    assert User.objects.filter(username="priya").count() == 1


@pytest.mark.parametrize(
    "wrong, errors",
    [
        (
            {"username": "TOMAS"},
            {"username": ["Tomas Brandt already uses this. Enter something else."]},
        ),
        (
            {"username": "priya l"},
            {"username": ["Enter only letters, digits and @ . + - _, without spaces."]},
        ),
        ({"initials": ""}, {"initials": ["Fill in this field."]}),
        (
            {"new_password_again": "other"},
            {"new_password_again": ["The two are different. Enter both again."]},
        ),
        (
            {"password": "nonsense"},
            {"password": ["This is not your password. Nothing was signed."]},
        ),
        (
            {"roles": ["cellar", "brewmaster"]},
            {"roles": ["Select a valid choice. brewmaster is not one of the available choices."]},
        ),
    ],
)
def test_bad_value_is_named_and_the_rest_is_kept(desk: Client, wrong: dict, errors: dict) -> None:
    response = desk.post("/set-up/people/add/", {**NEW, **wrong})
    assert (response.status_code, response.context["form"].errors) == (422, errors)
    assert 'value="Priya Lindqvist"' in response.content.decode()
    assert not User.objects.filter(full_name="Priya Lindqvist").exists()


def test_owner_changes_a_role(desk: Client, jonas: User) -> None:
    given = {
        "full_name": "Jonas Feld",
        "initials": "JF",
        "roles": ["head brewer"],
        "is_active": "on",
        "password": PASSWORD,
    }
    assert desk.post(f"/set-up/people/{jonas.pk}/", given).status_code == 302
    assert [group.name for group in jonas.groups.all()] == ["head brewer"]


def test_form_of_a_person_shows_what_they_have(desk: Client, jonas: User) -> None:
    form = desk.get(f"/set-up/people/{jonas.pk}/").context["form"]
    assert {name: form[name].value() for name in ("full_name", "initials", "roles")} == {
        "full_name": "Jonas Feld",
        "initials": "JF",
        "roles": ["cellar"],
    }


def test_own_management_stays(desk: Client, tomas: User) -> None:
    given = {
        "full_name": "Tomas Brandt",
        "initials": "TB",
        "roles": ["cellar"],
        "is_active": "on",
        "password": PASSWORD,
    }
    response = desk.post(f"/set-up/people/{tomas.pk}/", given)
    assert response.status_code == 422
    assert list(response.context["form"].errors) == ["roles"]


def test_owner_gives_a_new_password(desk: Client, jonas: User) -> None:
    given = {
        "new_password": "wet-gloves-77",
        "new_password_again": "wet-gloves-77",
        "password": PASSWORD,
    }
    assert desk.post(f"/set-up/people/{jonas.pk}/password/", given).status_code == 302
    jonas.refresh_from_db()
    assert jonas.check_password("wet-gloves-77")


def test_own_password_is_changed_on_its_own_page(desk: Client, tomas: User) -> None:
    assert desk.get(f"/set-up/people/{tomas.pk}/password/")["Location"] == "/password/"


@pytest.mark.parametrize("page", ["add/", "{pk}/", "{pk}/password/"])
def test_cellar_hand_changes_nobody(client: Client, jonas: User, tomas: User, page: str) -> None:
    client.force_login(jonas)
    address = "/set-up/people/" + page.format(pk=tomas.pk)
    assert client.get(address).status_code == 403
    assert client.post(address, NEW).status_code == 403
    assert User.objects.count() == 2


def test_cellar_hand_may_look_at_the_list(client: Client, jonas: User, tomas: User) -> None:
    client.force_login(jonas)
    response = client.get("/set-up/people/")
    assert [(p, roles) for p, roles in response.context["rows"]] == [
        (jonas, ["cellar"]),
        (tomas, ["owner"]),
    ]
    assert "/set-up/people/add/" not in response.content.decode()


@pytest.mark.parametrize("page", ["", "add/", "1/", "1/password/"])
def test_stranger_is_sent_to_sign_in(page: str) -> None:
    address = f"/set-up/people/{page}"
    assert Client().get(address)["Location"] == f"/sign-in/?next={address}"


LIST_QUERIES = 6  # session, user, brewery, people, groups, permissions


@pytest.mark.parametrize("more", [0, 3])
def test_list_costs_the_same_for_one_and_for_many(
    desk: Client, more: int, django_assert_num_queries
) -> None:
    for _ in range(more):
        make_user("cellar", "owner")
    with django_assert_num_queries(LIST_QUERIES):
        desk.get("/set-up/people/")

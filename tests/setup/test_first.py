"""The first start of an empty house."""

import pytest
from django.test import Client

from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.people.actions import roles_of
from brewhygiene.people.models import User
from brewhygiene.people.tablets import COOKIE
from brewhygiene.refusals import Refusal
from brewhygiene.setup import actions
from tests.factories import acting, make_cellar_hand

pytestmark = pytest.mark.django_db
GIVEN = {
    "brewery_name": "Quenlarrow & Ombry (invented)",
    "time_zone": "Europe/Berlin",
    "full_name": "Mara Oduya",
    "initials": "MO",
    "username": "mara",
    "new_password": "copper-kettle",
    "new_password_again": "copper-kettle",
}


def test_empty_house_leads_from_anywhere_to_its_first_person(client: Client) -> None:
    assert client.get("/")["Location"] == "/sign-in/?next=/"
    assert client.get("/sign-in/")["Location"] == "/first/"
    assert client.get("/first/").status_code == 200


def test_first_person_names_the_brewery_and_is_in(client: Client) -> None:
    response = client.post("/first/", GIVEN)
    assert response["Location"] == "/set-up/"
    brewery, person = Brewery.objects.get(), User.objects.get()
    assert (brewery.name, brewery.time_zone, brewery.is_demo) == (
        "Quenlarrow & Ombry (invented)",
        "Europe/Berlin",
        False,
    )
    assert roles_of(person) == ["head brewer", "owner"]
    assert (person.is_staff, person.is_superuser) == (False, False)
    assert client.get("/set-up/").status_code == 200
    assert COOKIE in client.cookies


def test_ledger_begins_with_it_and_knows_no_password(client: Client) -> None:
    client.post("/first/", GIVEN)
    entry = Entry.objects.get()
    assert (entry.verb, entry.who) == ("set up first person", "the system")
    assert entry.values == {
        "brewery": "Quenlarrow & Ombry (invented)",
        "time_zone": "Europe/Berlin",
        "roles": ["head brewer", "owner"],
    }


@pytest.mark.parametrize(
    "wrong, field",
    [
        ({"brewery_name": ""}, "brewery_name"),
        ({"time_zone": "Mars/Olympus"}, "time_zone"),
        ({"username": "mara oduya"}, "username"),
        ({"new_password": "short", "new_password_again": "short"}, "new_password"),
        ({"new_password_again": "other"}, "new_password_again"),
    ],
)
def test_bad_value_is_named_and_nothing_is_half_set_up(
    client: Client, wrong: dict, field: str
) -> None:
    response = client.post("/first/", {**GIVEN, **wrong})
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [field]
    assert response.context["form"]["full_name"].value() == "Mara Oduya"
    assert (Brewery.objects.count(), User.objects.count(), Entry.objects.count()) == (0, 0, 0)


def test_house_with_anybody_in_it_is_shut(client: Client) -> None:
    make_cellar_hand()
    assert client.get("/first/")["Location"] == "/sign-in/"
    assert client.post("/first/", GIVEN)["Location"] == "/sign-in/"
    assert (User.objects.count(), Brewery.objects.count()) == (1, 0)
    assert client.get("/sign-in/").status_code == 200


def test_house_is_shut_even_if_everybody_left(client: Client) -> None:
    make_cellar_hand(is_active=False)
    assert client.post("/first/", GIVEN)["Location"] == "/sign-in/"


def test_second_of_two_first_people_is_refused() -> None:
    """Both opened the form while nobody was there."""
    values = {
        "brewery_name": "A",
        "time_zone": "UTC",
        "full_name": "Mara Oduya",
        "initials": "MO",
        "username": "mara",
        "new_password": "copper-kettle",
    }
    actions.set_up_first_person(by=acting(None), **values)
    with pytest.raises(Refusal) as refused:
        actions.set_up_first_person(
            by=acting(None), **{**values, "username": "b", "full_name": "B", "initials": "B"}
        )
    assert refused.value.code == "not_empty"
    assert Brewery.objects.get().name == "A"

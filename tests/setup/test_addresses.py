"""Every address of the set-up and of one's own pages: the right answer, one h1."""

import re

import pytest
from django.test import Client
from django.urls import NoReverseMatch, URLPattern, URLResolver, get_resolver, reverse

from brewhygiene.people.enrolment.actions import enrol_tablet
from brewhygiene.people.models import Tablet, User
from tests.factories import PASSWORD, Cellar, acting

pytestmark = pytest.mark.django_db
ROOMS = ("people", "brewery", "cellar", "setup")
# Answered to a POST only, with a file, with another page, or for a name only.
NO_PAGE = {
    "people:sign_out",
    "cellar:vessel_photo",
    "cellar:vessel_photo_set",
    "cellar:vessel_photo_remove",
    "cellar:point_usual",
    "cellar:point_photo",
    "cellar:point_photo_set",
    "cellar:point_photo_remove",
}


def named(room: str) -> list[str]:
    found: list[str] = []
    for resolver in get_resolver().url_patterns:
        if isinstance(resolver, URLResolver) and resolver.namespace == room:
            found += [f"{room}:{pattern.name}" for pattern in patterns(resolver)]
    return found


def patterns(resolver: URLResolver) -> list[URLPattern]:
    """All of a room's, those below a prefix of its own too."""
    found: list[URLPattern] = []
    for each in resolver.url_patterns:
        found += patterns(each) if isinstance(each, URLResolver) else [each]
    return found


ADDRESSES = [name for room in ROOMS for name in named(room)]
PAGES = [name for name in ADDRESSES if name not in NO_PAGE]
# These send a signed-in person on.
ELSEWHERE = {"people:sign_in": "/", "setup:first": "/sign-in/"}


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def enrolled(cellar: Cellar) -> Tablet:
    return enrol_tablet(
        by=acting(cellar.brewer), mark="0123456789abcdef", name="Cellar 1", password=PASSWORD
    )


def address(name: str, cellar: Cellar) -> str:
    """With the number of whatever it is about: a person, a beer, a point or a vessel."""
    try:
        return reverse(name)
    except NoReverseMatch:
        room, _, page = name.partition(":")
        if page in ("tablet", "retire_tablet"):
            number = enrolled(cellar).pk
        elif room == "people":
            number = cellar.hand.pk
        elif page.startswith("beer"):
            number = cellar.pale.pk
        elif page.startswith("point") and page not in ("point_add", "point_usual"):
            number = cellar.point.pk
        else:
            number = cellar.vessel.pk
        return reverse(name, args=[number])


def test_walk_knows_every_room() -> None:
    assert {name.split(":")[0] for name in ADDRESSES} == set(ROOMS)
    assert set(ADDRESSES) >= NO_PAGE


def headings(client: Client, path: str) -> list[str]:
    return re.findall(r"<h1[ >]", client.get(path).content.decode())


@pytest.mark.parametrize("name", PAGES)
def test_every_page_has_one_h1(client: Client, cellar: Cellar, name: str) -> None:
    client.force_login(cellar.brewer)
    path = address(name, cellar)
    response = client.get(path)
    if name in ELSEWHERE:
        assert response["Location"] == ELSEWHERE[name]
        return
    assert response.status_code == 200
    assert headings(client, path) == ["<h1>"]


@pytest.mark.parametrize("name", ADDRESSES)
def test_no_address_answers_a_stranger_with_a_page_of_the_house(cellar: Cellar, name: str) -> None:
    response = Client().get(address(name, cellar))
    if name == "people:sign_in":
        assert response.status_code == 200
    elif name == "people:sign_out":
        assert response.status_code == 405
    else:
        assert response.status_code == 302
        assert response["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("name", sorted(NO_PAGE))
def test_what_takes_a_post_refuses_to_be_opened(client: Client, cellar: Cellar, name: str) -> None:
    client.force_login(cellar.brewer)
    expected = (
        404 if name in ("cellar:vessel_photo", "cellar:point_photo", "cellar:point_usual") else 405
    )
    assert client.get(address(name, cellar)).status_code == expected


@pytest.mark.parametrize("name", ["people:edit", "cellar:vessel", "cellar:beer_edit"])
def test_number_that_nothing_has_is_not_found(client: Client, cellar: Cellar, name: str) -> None:
    client.force_login(cellar.brewer)
    assert client.get(reverse(name, args=[999_999])).status_code == 404


def test_forms_show_their_errors_under_one_h1(client: Client, cellar: Cellar) -> None:
    client.force_login(cellar.brewer)
    for path in ("/set-up/vessels/add/", "/set-up/beers/add/", "/set-up/brewery/", "/pin/"):
        response = client.post(path, {"key": "a"})
        assert response.status_code == 422
        assert response.content.decode().count("<h1>") == 1


def test_session_goes_with_the_person(client: Client, cellar: Cellar) -> None:
    client.force_login(cellar.brewer)
    User.objects.filter(pk=cellar.brewer.pk).update(is_active=False)
    assert client.get("/set-up/")["Location"] == "/sign-in/?next=/set-up/"

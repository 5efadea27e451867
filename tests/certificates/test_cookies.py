"""What crossed the network in the clear opens nothing over HTTPS, and nothing the other way."""

import pytest
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse

from brewhygiene.people.models import User
from brewhygiene.people.tablets import COOKIE
from tests.factories import make_user
from tests.factories.people import PASSWORD

pytestmark = pytest.mark.django_db


@pytest.fixture
def person() -> User:
    return make_user()


def signed_in(person: User, *, secure: bool) -> Client:
    client = Client()
    answer = client.post(
        reverse("people:sign_in"),
        {"username": person.username, "password": PASSWORD},
        secure=secure,
    )
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/"
    return client


def is_let_in(client: Client, *, secure: bool) -> bool:
    return client.get(reverse("people:pin"), secure=secure).status_code == 200


def test_each_has_its_own_names_and_holds(person: User) -> None:
    plain, encrypted = signed_in(person, secure=False), signed_in(person, secure=True)
    assert set(plain.cookies) == {"sessionid", "csrftoken", "tablet"}
    assert set(encrypted.cookies) == {"__Host-sessionid", "__Host-csrftoken", "__Host-tablet"}
    assert is_let_in(plain, secure=False)
    assert is_let_in(encrypted, secure=True)


def test_cookies_over_https_are_as_the_prefix_asks(person: User) -> None:
    for cookie in signed_in(person, secure=True).cookies.values():
        assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", "")
    session = signed_in(person, secure=True).cookies["__Host-sessionid"]
    assert (session["httponly"], session["samesite"]) == (True, "Lax")
    assert session["max-age"] == 60 * 60 * 14


def test_cookies_over_plain_http_are_as_before(person: User) -> None:
    session = signed_in(person, secure=False).cookies["sessionid"]
    assert (session["secure"], session["httponly"], session["samesite"]) == ("", True, "Lax")


def moved(client: Client, name: str, to: str) -> Client:
    """What a listener does: the value of one cookie, sent by another name."""
    other = Client()
    other.cookies[to] = client.cookies[name].value
    return other


def test_session_that_was_listened_to_opens_nothing_over_https(person: User) -> None:
    plain = signed_in(person, secure=False)
    assert not is_let_in(plain, secure=True)
    assert not is_let_in(moved(plain, "sessionid", "__Host-sessionid"), secure=True)
    # The person goes on where they signed in.
    assert is_let_in(plain, secure=False)
    assert Session.objects.count() == 1


def test_session_of_https_opens_nothing_in_the_clear(person: User) -> None:
    encrypted = signed_in(person, secure=True)
    assert not is_let_in(encrypted, secure=False)
    assert not is_let_in(moved(encrypted, "__Host-sessionid", "sessionid"), secure=False)
    assert is_let_in(encrypted, secure=True)


def test_tablet_known_in_the_clear_is_unknown_over_https(person: User) -> None:
    plain = signed_in(person, secure=False)
    assert moved(plain, COOKIE, COOKIE).get("/switch/").status_code == 200
    answer = moved(plain, COOKIE, f"__Host-{COOKIE}").get("/switch/", secure=True)
    assert answer.headers["Location"] == reverse("people:sign_in")
    encrypted = signed_in(person, secure=True)
    known = moved(encrypted, f"__Host-{COOKIE}", f"__Host-{COOKIE}")
    assert known.get("/switch/", secure=True).status_code == 200


def test_session_from_before_holds_over_plain_http_only(person: User) -> None:
    """Of a version that marked none: it was begun in the clear."""
    client = signed_in(person, secure=False)
    session = client.session
    del session["begun_over_https"]
    session.save()
    assert is_let_in(client, secure=False)
    assert not is_let_in(moved(client, "sessionid", "__Host-sessionid"), secure=True)


def test_form_is_taken_over_https_with_its_own_token_only(person: User) -> None:
    client = Client(enforce_csrf_checks=True)
    page = client.get(reverse("people:sign_in"), secure=True)
    token = client.cookies["__Host-csrftoken"].value
    sent = {"username": person.username, "password": PASSWORD, "csrfmiddlewaretoken": token}
    headers = {"origin": "https://testserver"}
    assert page.status_code == 200
    planted = Client(enforce_csrf_checks=True)
    planted.cookies["csrftoken"] = token
    answer = planted.post(reverse("people:sign_in"), sent, secure=True, headers=headers)
    assert answer.status_code == 403
    answer = client.post(reverse("people:sign_in"), sent, secure=True, headers=headers)
    assert answer.status_code == 302


def test_signing_out_over_https_takes_the_cookie_away(person: User) -> None:
    client = signed_in(person, secure=True)
    client.post(reverse("people:sign_out"), secure=True)
    cookie = client.cookies["__Host-sessionid"]
    assert (cookie.value, cookie["max-age"], cookie["secure"]) == ("", 0, True)

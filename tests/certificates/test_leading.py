"""A page over plain HTTP may ask this server over HTTPS, and nobody else."""

import re

import pytest
from django.test import Client

from brewhygiene.certificates.serving import https

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def served(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(https, "port", 8443)


def asked(host: str = "cellar.local:8000", *, secure: bool = False) -> tuple[str, str]:
    """Where a page may connect to, and where its script is told to ask."""
    answer = Client().get("/trust/", secure=secure, headers={"host": host})
    policy = answer.headers["Content-Security-Policy"]
    told = re.findall(r'data-https="([^"]*)"', answer.content.decode())
    return re.findall(r"connect-src ([^;]*)", policy)[0], told[0] if told else ""


def test_page_asks_by_the_name_it_was_opened_by() -> None:
    assert asked() == ("'self' https://cellar.local:8443", "https://cellar.local:8443")
    assert asked("192.168.1.10:8000") == (
        "'self' https://192.168.1.10:8443",
        "https://192.168.1.10:8443",
    )


def test_page_over_https_asks_nobody() -> None:
    assert asked(secure=True) == ("'self'", "")


def test_page_asks_nobody_where_https_is_not_served(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(https, "port", 0)
    assert asked() == ("'self'", "")


def test_name_that_no_policy_may_carry_is_left_out() -> None:
    assert asked("[fd00::1]:8000") == ("'self'", "")


def test_rest_of_the_policy_stays_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    with_https = Client().get("/trust/").headers["Content-Security-Policy"]
    monkeypatch.setattr(https, "port", 0)
    without = Client().get("/trust/").headers["Content-Security-Policy"]
    assert with_https.replace(" https://testserver:8443", "") == without


def test_nothing_sends_a_page_to_https_by_itself() -> None:
    answer = Client().get("/sign-in/")
    assert answer.status_code in (200, 302)
    assert not answer.headers.get("Location", "").startswith("https:")
    assert "Strict-Transport-Security" not in answer.headers


def test_small_address_may_be_read_by_any_page_and_holds_nothing() -> None:
    answer = Client().get("/trust/reached", secure=True, headers={"origin": "http://cellar:8000"})
    assert (answer.status_code, answer.content) == (200, b"")
    assert answer.headers["Access-Control-Allow-Origin"] == "*"
    assert "Access-Control-Allow-Credentials" not in answer.headers
    assert not answer.cookies

"""What somebody sees whose role does not include a page, or whose page is no longer good."""

import pytest
from django.test import Client

from tests.factories import PASSWORD, make_cellar_hand

pytestmark = pytest.mark.django_db


def test_refused_page_says_what_it_takes(client: Client) -> None:
    client.force_login(make_cellar_hand())
    response = client.get("/set-up/people/add/")
    page = response.content.decode()
    assert response.status_code == 403
    assert "Managing people needs the head brewer or owner role. Nothing was recorded." in page
    assert page.count("<h1>") == 1


def test_page_that_is_not_there_leads_back(client: Client) -> None:
    client.force_login(make_cellar_hand())
    response = client.get("/set-up/vessels/999999/")
    assert response.status_code == 404
    assert "Page not found" in response.content.decode()


def test_form_of_an_earlier_session_says_that_nothing_was_recorded() -> None:
    hand = make_cellar_hand(username="jonas")
    client = Client(enforce_csrf_checks=True)
    client.force_login(hand)
    response = client.post("/password/", {"password": PASSWORD})
    page = response.content.decode()
    assert response.status_code == 403
    assert "Page out of date" in page
    assert page.count("<h1>") == 1


def test_page_of_a_failure_needs_nothing_that_may_have_failed(rf) -> None:
    from django.views.defaults import server_error

    response = server_error(rf.get("/"))
    assert response.status_code == 500
    assert "Server error" in response.content.decode()

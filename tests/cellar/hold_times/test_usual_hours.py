"""The usual hold times: filled in when asked for, and set only by who signs them."""

import pytest
from django.test import Client

from brewhygiene.cellar.models import HoldClock
from tests.factories import PASSWORD, make_user

pytestmark = pytest.mark.django_db

ADDRESS = "/set-up/hold-times/"


@pytest.fixture
def desk(client: Client) -> Client:
    client.force_login(make_user("head brewer"))
    return client


def test_usual_hours_are_filled_in_and_nothing_is_stored(desk: Client) -> None:
    assert "Fill in usual hours" in desk.get(ADDRESS).content.decode()
    page = desk.get(ADDRESS + "?usual")
    form = page.context["form"]
    assert [form[f"yeast_vessel-{name}"].value() for name in form.LABELS] == ["2", "24", "2"]
    # A kind without usual hours keeps what counts for it.
    assert [form[f"keg-{name}"].value() for name in form.LABELS] == ["24", "24", "4"]
    text = page.content.decode()
    assert "They count once you have saved them." in text
    assert "Dirty 4 h after fruit or dry hops. Clean 48 h if sealed." in text
    assert HoldClock.objects.count() == 0


def test_what_is_filled_in_is_stored_once_signed(desk: Client) -> None:
    form = desk.get(ADDRESS + "?usual").context["form"]
    given = {name: form[name].value() for name in form.fields if "-" in name}
    desk.post(ADDRESS, {**given, "password": PASSWORD})
    stored = {c.vessel_kind: c.clean_hold_h for c in HoldClock.objects.all()}
    assert stored["bright_tank"] == 72
    assert len(stored) == 9


def test_who_may_not_edit_is_offered_nothing(client: Client) -> None:
    client.force_login(make_user("cellar"))
    page = client.get(ADDRESS + "?usual")
    assert "Fill in usual hours" not in page.content.decode()
    assert page.context["form"]["yeast_vessel-dirty_hold_h"].value() == "24"

"""The set-up pages of beers and hold times."""

import pytest
from django.test import Client

from brewhygiene.cellar.models import Beer, HoldClock, VesselKind
from tests.factories import (
    PASSWORD,
    make_beer,
)

pytestmark = pytest.mark.django_db


def test_beer_is_added_and_edited(desk: Client) -> None:
    desk.post("/set-up/beers/add/", {"name": "Skellavine Gose", "sour_or_mixed": "on"})
    beer = Beer.objects.get()
    assert (beer.sour_or_mixed, beer.active) == (True, True)
    address = f"/set-up/beers/{beer.pk}/"
    assert desk.get(address).context["form"]["sour_or_mixed"].value() is True
    desk.post(address, {"name": "Skellavine Gose", "allergen": "coriander", "password": PASSWORD})
    beer.refresh_from_db()
    assert (beer.sour_or_mixed, beer.active, beer.allergen) == (False, False, "coriander")


def test_second_beer_of_a_name_is_refused_beside_it(desk: Client) -> None:
    make_beer(name="Skellavine Gose")
    response = desk.post("/set-up/beers/add/", {"name": "skellavine gose", "allergen": "coriander"})
    form = response.context["form"]
    assert (response.status_code, form.errors) == (
        422,
        {"name": ["Another beer has this name. Enter a different name."]},
    )
    assert form["allergen"].value() == "coriander"


def clocks_as_shown(client: Client) -> dict[str, str]:
    form = client.get("/set-up/hold-times/").context["form"]
    shown = {name: form[name].value() for name in form.fields if "-" in name}
    return {**shown, "password": PASSWORD}


def test_clocks_start_at_the_defaults_with_their_source(desk: Client) -> None:
    page = desk.get("/set-up/hold-times/")
    assert "one author&#x27;s rule of thumb, not law" in page.content.decode()
    shown = clocks_as_shown(desk)
    del shown["password"]
    assert len(shown) == 3 * len(VesselKind.values)
    assert {name.split("-")[1]: value for name, value in shown.items()} == {
        "dirty_hold_h": "24",
        "clean_hold_h": "24",
        "sanitised_hold_h": "4",
    }


def test_only_changed_clocks_are_stored(desk: Client) -> None:
    given = {**clocks_as_shown(desk), "keg-clean_hold_h": "72,5"}
    assert desk.post("/set-up/hold-times/", given)["Location"] == "/set-up/hold-times/"
    clock = HoldClock.objects.get()
    assert (clock.vessel_kind, clock.clean_hold_h) == ("keg", 72.5)


def test_clocks_change_with_the_password_only(desk: Client) -> None:
    given = {**clocks_as_shown(desk), "keg-clean_hold_h": "72,5", "password": "not-mine"}
    response = desk.post("/set-up/hold-times/", given)
    assert (response.status_code, response.context["form"].errors) == (
        422,
        {"password": ["This is not your password. Nothing was signed."]},
    )
    assert response.context["form"]["keg-clean_hold_h"].value() == "72,5"
    assert not HoldClock.objects.exists()


@pytest.mark.parametrize(
    "typed, message",
    [
        ("0", "0 h is too low. Enter at least 0.25 h."),
        ("", "This field is required."),
        ("a day", "“a day” is not a number. Enter digits, e.g. 2.5 or 2,5."),
        ("99999", "99999 h is too high. Enter at most 8760 h."),
    ],
)
def test_clock_that_cannot_be_is_named_beside_its_box(
    desk: Client, typed: str, message: str
) -> None:
    given = {**clocks_as_shown(desk), "keg-clean_hold_h": typed, "keg-dirty_hold_h": "30"}
    response = desk.post("/set-up/hold-times/", given)
    form = response.context["form"]
    assert (response.status_code, form.errors) == (422, {"keg-clean_hold_h": [message]})
    assert form["keg-dirty_hold_h"].value() == "30"
    assert HoldClock.objects.count() == 0


def test_clocks_sent_unchanged_say_so(desk: Client) -> None:
    response = desk.post("/set-up/hold-times/", clocks_as_shown(desk))
    assert response.context["form"].non_field_errors() == ["No hold time was changed."]

"""The brewery's own settings, as action and as page."""

import zoneinfo

import pytest
from django.test import Client

from brewhygiene.brewery import actions
from brewhygiene.brewery.models import Brewery
from brewhygiene.brewery.time_zones import time_zone_choices, time_zones
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import (
    acting,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
)

pytestmark = pytest.mark.django_db
ADDRESS = "/set-up/brewery/"
SETTINGS = {
    "name": "Quenlarrow & Ombry (invented)",
    "address": "1 Weir Lane, Tolvenhythe (invented)",
    "time_zone": "Europe/Berlin",
    "volume_unit": "bbl",
    "temperature_unit": "F",
    "flow_unit": "gpm",
    "decimal_sign": ",",
    "date_style": "iso",
    "burette_ml": "25",
    "supply_ph": "7.4",
    "supply_conductivity_ms_cm": "0.48",
}


def test_first_settings_make_the_one_row() -> None:
    actions.edit_brewery(by=acting(make_owner()), name="Quenlarrow & Ombry", time_zone="Asia/Tokyo")
    brewery = Brewery.objects.get()
    assert (brewery.pk, brewery.name, brewery.time_zone) == (1, "Quenlarrow & Ombry", "Asia/Tokyo")


def test_edit_tells_what_changed() -> None:
    make_brewery(name="Quenlarrow & Ombry")
    actions.edit_brewery(by=acting(make_head_brewer()), burette_ml=25, name="Quenlarrow & Ombry")
    assert Entry.objects.get().values == {
        "before": {"burette_ml": 50.0},
        "after": {"burette_ml": 25},
    }


@pytest.mark.parametrize(
    "values, field",
    [
        ({"time_zone": "Mars/Olympus"}, "time_zone"),
        ({"time_zone": "../../etc/passwd"}, "time_zone"),
        ({"volume_unit": "firkin"}, "volume_unit"),
        ({"decimal_sign": ";"}, "decimal_sign"),
        ({"date_style": "year of the king"}, "date_style"),
        ({"burette_ml": 0}, "burette_ml"),
        ({"supply_ph": 14.1}, "supply_ph"),
        ({"supply_conductivity_ms_cm": 10.1}, "supply_conductivity_ms_cm"),
        ({"name": ""}, "name"),
    ],
)
def test_what_no_brewery_can_be_is_refused(values: dict, field: str) -> None:
    make_brewery()
    before = Brewery.objects.values().get()
    with pytest.raises(Refusal) as refused:
        actions.edit_brewery(by=acting(make_owner()), **values)
    assert refused.value.field == field
    assert Brewery.objects.values().get() == before


def test_cellar_hand_does_not_rename_the_brewery() -> None:
    with pytest.raises(NotAllowed):
        actions.edit_brewery(by=acting(make_cellar_hand()), name="Mine")


def test_every_time_zone_offered_is_one_that_the_clock_knows() -> None:
    offered = [name for _, places in time_zone_choices() for name, _ in places]
    assert sorted(offered) == list(time_zones())
    assert {str(zoneinfo.ZoneInfo(name)) for name in ("UTC", "Europe/Berlin")} <= set(offered)


@pytest.mark.parametrize("make", [make_owner, make_head_brewer])
def test_owner_and_head_brewer_change_the_settings(client: Client, make) -> None:
    client.force_login(make())
    assert client.post(ADDRESS, SETTINGS)["Location"] == "/set-up/"
    brewery = Brewery.objects.get()
    assert {name: str(getattr(brewery, name)) for name in SETTINGS} == {
        **SETTINGS,
        "burette_ml": "25.0",
    }
    form = client.get(ADDRESS).context["form"]
    assert form["volume_unit"].value() == "bbl"


def test_times_are_shown_in_the_zone_from_the_next_page_on(client: Client) -> None:
    client.force_login(make_owner())
    client.post(ADDRESS, {**SETTINGS, "time_zone": "Asia/Tokyo"})
    assert "Times are Asia/Tokyo." in client.get("/set-up/").content.decode()


@pytest.mark.parametrize(
    "wrong, errors",
    [
        ({"name": ""}, {"name": ["Fill in this field."]}),
        ({"time_zone": "Mars/Olympus"}, {"time_zone": ["Choose a time zone from the list."]}),
        ({"burette_ml": "500"}, {"burette_ml": ["500 mL is too high. Enter at most 100 mL."]}),
        (
            {"burette_ml": "fifty"},
            {"burette_ml": ["“fifty” is not a number. Enter digits, e.g. 2.5 or 2,5."]},
        ),
    ],
)
def test_bad_value_is_named_and_the_rest_is_kept(client: Client, wrong: dict, errors: dict) -> None:
    client.force_login(make_owner())
    response = client.post(ADDRESS, {**SETTINGS, **wrong})
    form = response.context["form"]
    assert (response.status_code, form.errors) == (422, errors)
    assert form["address"].value() == SETTINGS["address"]
    assert not Brewery.objects.exists()


def test_cellar_hand_may_look_and_not_change(client: Client) -> None:
    make_brewery(name="Quenlarrow & Ombry")
    client.force_login(make_cellar_hand())
    page = client.get(ADDRESS)
    assert page.status_code == 200
    assert "<form" not in page.content.decode().split("<main")[1]
    assert client.post(ADDRESS, SETTINGS).status_code == 403
    assert Brewery.objects.get().name == "Quenlarrow & Ombry"


def test_stranger_is_sent_to_sign_in() -> None:
    assert Client().get(ADDRESS)["Location"] == f"/sign-in/?next={ADDRESS}"

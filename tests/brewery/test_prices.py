"""Prices and where heat starts, as action and as page."""

import pytest
from django.test import Client

from brewhygiene.brewery import actions
from brewhygiene.brewery.models import Brewery
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import (
    acting,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_owner,
)
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db
ADDRESS = "/set-up/prices/"
PRICES = {
    "currency": "GBP",
    "water_price_hl": "0.5",
    "effluent_price_hl": "",
    "load_price_kg_naoh": "0,6",
    "energy_price_kwh": "0.12",
    "minute_price": "",
    "missed_tank_cost": "4000",
    "needless_clean_cost": "60,5",
    "supply_water_c": "9",
    "heat_percent": "80",
}


def test_prices_are_in_the_ledger_before_and_after() -> None:
    make_brewery()
    actions.edit_prices(by=acting(make_head_brewer()), currency="gbp", water_price_hl=0.5)
    entry = Entry.objects.get()
    assert (entry.verb, entry.values) == (
        "edit prices",
        {
            "before": {"currency": "EUR", "water_price_hl": None},
            "after": {"currency": "GBP", "water_price_hl": 0.5},
        },
    )


@pytest.mark.parametrize(
    "values, field",
    [
        ({"currency": "EU"}, "currency"),
        ({"currency": "E1R"}, "currency"),
        ({"water_price_hl": -1}, "water_price_hl"),
        ({"missed_tank_cost": -1}, "missed_tank_cost"),
        ({"supply_water_c": 60}, "supply_water_c"),
        ({"heat_efficiency": 0.05}, "heat_efficiency"),
    ],
)
def test_price_that_cannot_be_is_refused(values: dict, field: str) -> None:
    make_brewery()
    before = Brewery.objects.values().get()
    with pytest.raises(Refusal) as refused:
        actions.edit_prices(by=acting(make_owner()), **values)
    assert refused.value.field == field
    assert Brewery.objects.values().get() == before


def test_cellar_hand_sets_no_price() -> None:
    make_brewery()
    with pytest.raises(NotAllowed):
        actions.edit_prices(by=acting(make_cellar_hand()), water_price_hl=1)


@pytest.mark.parametrize(
    "make, looked, posted",
    [(make_head_brewer, 200, 302), (make_owner, 200, 302), (make_cellar_hand, 200, 403)],
)
def test_three_people_at_the_prices(make, looked: int, posted: int) -> None:
    make_brewery()
    client = signed_in(make())
    page = client.get(ADDRESS)
    assert (page.status_code, page.content.decode().count("<h1")) == (looked, 1)
    assert client.post(ADDRESS, PRICES).status_code == posted
    assert (Brewery.current().currency == "GBP") == (posted == 302)


def test_stranger_is_sent_to_sign_in() -> None:
    make_brewery()
    assert Client().get(ADDRESS)["Location"] == f"/sign-in/?next={ADDRESS}"


def test_prices_are_kept_as_they_were_typed() -> None:
    make_brewery()
    signed_in(make_head_brewer()).post(ADDRESS, PRICES)
    saved = Brewery.current()
    assert (saved.water_price_hl, saved.effluent_price_hl, saved.load_price_kg_naoh) == (
        0.5,
        None,
        0.6,
    )
    assert (saved.missed_tank_cost, saved.needless_clean_cost) == (4000, 60.5)
    assert (saved.supply_water_c, saved.heat_efficiency) == (9, 0.8)


def test_price_of_a_barrel_is_kept_per_hectolitre() -> None:
    """A US beer barrel is 31 US gallons of 3.785411784 L: 1.17347765 hL."""
    make_brewery(volume_unit="bbl", temperature_unit="F")
    client = signed_in(make_head_brewer())
    client.post(ADDRESS, PRICES | {"water_price_hl": "1", "supply_water_c": "50"})
    saved = Brewery.current()
    assert saved.water_price_hl == pytest.approx(1 / 1.17347765, rel=1e-7)
    assert saved.supply_water_c == pytest.approx(10)
    form = client.get(ADDRESS).context["form"]
    assert (form["water_price_hl"].value(), form["supply_water_c"].value()) == ("1", "50")
    # Saved again as it is shown, it does not drift.
    client.post(ADDRESS, PRICES | {"water_price_hl": "1", "supply_water_c": "50"})
    assert Brewery.current().water_price_hl == saved.water_price_hl


def test_what_is_wrong_stands_beside_its_field_and_nothing_typed_is_lost() -> None:
    make_brewery()
    answer = signed_in(make_head_brewer()).post(
        ADDRESS, PRICES | {"water_price_hl": "cheap", "heat_percent": "180"}
    )
    assert answer.status_code == 422
    assert {name: list(found) for name, found in answer.context["form"].errors.items()} == {
        "water_price_hl": ["“cheap” is not a number. Enter digits, e.g. 2.5 or 2,5."],
        "heat_percent": ["180 % is too high. Enter at most 100 %."],
    }
    assert b'value="cheap"' in answer.content
    assert Brewery.current().currency == "EUR"

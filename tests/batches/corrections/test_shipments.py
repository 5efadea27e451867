"""Shipments corrected: beside what was first, within what was packaged, as a recall finds them."""

from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.batches.corrections.shipments.actions import correct_shipment
from brewhygiene.batches.lots.actions import units_shipped
from brewhygiene.batches.models.corrections import ShipmentCorrection
from brewhygiene.batches.models.lots import Customer, Lot, Shipment
from brewhygiene.batches.recall.ways import both_ways
from brewhygiene.ledger.models import Entry
from brewhygiene.refusals import NotAllowed, Refusal
from tests.batches.scenes import Brewhouse
from tests.factories import PASSWORD, acting, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def shipment(house: Brewhouse) -> Shipment:
    """4 of the 10 kegs of L-1; 5 more of it went elsewhere, and L-9 has 3 kegs."""
    house.brewed("B1", 0)
    lot = house.packaged("L-1", house.fv, 2)
    house.packaged("L-9", house.fv, 30, units=3)
    house.shipped(lot, 40, units=5, customer="Salt Barn (invented)")
    return house.shipped(lot, 40, units=4)


def corrected(house: Brewhouse, shipment: Shipment, **values: Any) -> ShipmentCorrection:
    return correct_shipment(
        **{
            "by": acting(house.hand, now=house.at(60)),
            "shipment": shipment,
            "lot": "L-1",
            "customer": "The Ninth Lantern (invented)",
            "units": 4,
            "shipped_on": shipment.shipped_on,
            "reason": " Wrong note ",
            "password": PASSWORD,
            "revision_seen": shipment.corrections.count(),
            **values,
        }
    )


def test_shipment_is_corrected_and_the_old_one_stands_beside(
    house: Brewhouse, shipment: Shipment
) -> None:
    made = corrected(
        house,
        shipment,
        customer="Salt Barn (invented)",
        units=2,
        shipped_on=shipment.shipped_on - timedelta(days=1),
        document=" DN 7 ",
    )
    shipment.refresh_from_db()
    assert (shipment.customer.name, shipment.units) == ("Salt Barn (invented)", 2)
    day = house.at(40).date() - timedelta(days=1)
    assert (shipment.shipped_on, shipment.document) == (day, "DN 7")
    assert made.was == {
        "lot": "L-1",
        "customer": "The Ninth Lantern (invented)",
        "units": 4,
        "shipped_on": house.at(40).date().isoformat(),
        "document": "",
    }
    assert [name for name, _, _ in made.changed] == ["customer", "units", "shipped_on", "document"]
    assert (made.reason, made.signature.user, made.was_lot) == ("Wrong note", house.hand, None)
    assert Entry.objects.get(verb="correct shipment").values["was"]["units"] == 4
    found = both_ways(shipment.lot)["customers"]
    assert [(one["name"], one["units"]) for one in found] == [
        ("Salt Barn (invented)", 2),
        ("Salt Barn (invented)", 5),
    ]


def test_shipment_of_another_lot_is_found_by_that_one(house: Brewhouse, shipment: Shipment) -> None:
    first = shipment.lot
    made = corrected(house, shipment, lot=" l-9 ", units=3)
    assert (made.was_lot, made.shipment.lot.number) == (first, "L-9")
    assert (units_shipped(first), units_shipped(made.shipment.lot)) == (5, 3)
    assert [one["units"] for one in both_ways(made.shipment.lot)["customers"]] == [3]


def test_units_of_a_held_batch_that_were_shipped_can_be_put_right(
    house: Brewhouse, shipment: Shipment
) -> None:
    """They are with the customer, and a recall has to find as many as there are."""
    house.grew(house.fv, -0.1, 55)
    with pytest.raises(Refusal) as refused:
        house.shipped(shipment.lot, 56, units=1)
    assert refused.value.code == "held"
    assert corrected(house, shipment, units=5).shipment.units == 5


@pytest.mark.parametrize(
    "values, answer",
    [
        ({"units": 5}, None),
        ({"units": 6}, ("units", "unbalanced")),
        ({"units": 0}, ("units", "refused")),
        ({"lot": "L-9"}, ("units", "unbalanced")),
        ({"lot": "L-7"}, ("lot", "unknown")),
        ({"customer": " "}, ("customer", "refused")),
        ({"customer": "Reed House (invented)"}, ("address", "refused")),
        ({"units": 3, "reason": " "}, ("reason", "refused")),
        ({"units": 3, "password": "wrong"}, ("password", "bad_password")),
        ({"days": 3}, ("shipped_on", "refused")),
        ({"days": -3}, ("shipped_on", "refused")),
        ({"lot": "l-1"}, (None, "same")),
        ({"units": 3, "revision_seen": 1}, None),
    ],
)
def test_what_contradicts_is_refused_beside_its_field(
    house: Brewhouse, shipment: Shipment, values: dict[str, Any], answer: tuple[str, str] | None
) -> None:
    values = dict(values)
    if "days" in values:
        values["shipped_on"] = shipment.shipped_on + timedelta(days=values.pop("days"))
    if "revision_seen" in values:
        corrected(house, shipment, units=2)
    before = (Entry.objects.count(), Customer.objects.count(), ShipmentCorrection.objects.count())
    if answer is None:
        assert corrected(house, shipment, **values).shipment.units == values["units"]
        return
    with pytest.raises(Refusal) as refused:
        corrected(house, shipment, **values)
    assert (refused.value.field, refused.value.code) == answer
    after = (Entry.objects.count(), Customer.objects.count(), ShipmentCorrection.objects.count())
    assert after == before


def test_second_correction_that_knew_of_none_is_refused(
    house: Brewhouse, shipment: Shipment
) -> None:
    corrected(house, shipment, units=3)
    with pytest.raises(Refusal) as refused:
        corrected(house, shipment, units=2, revision_seen=0)
    assert (refused.value.field, refused.value.code) == ("units", "stale")


def test_corrections_are_for_those_who_work_in_the_cellar(
    house: Brewhouse, shipment: Shipment
) -> None:
    for user in (house.owner, make_user()):
        with pytest.raises(NotAllowed):
            corrected(house, shipment, units=3, by=acting(user, now=house.at(60)))


def test_page_corrects_and_both_lots_say_so(house: Brewhouse, shipment: Shipment) -> None:
    client = Client()
    client.force_login(house.hand)
    address = reverse("batches:correct_shipment", args=[shipment.pk])
    html = client.get(address).content.decode()
    assert 'value="L-1"' in html
    assert "A recall goes by the correction." in html
    sent = {
        "lot": "L-9",
        "customer": "The Ninth Lantern (invented)",
        "units": "9",
        "shipped_on": shipment.shipped_on.isoformat(),
        "reason": "Pallet of the other lot",
        "password": PASSWORD,
        "revision_seen": "0",
    }
    answer = client.post(address, sent)
    assert answer.status_code == 422
    assert "Only 3 of 3 units of lot L-9 are left." in answer.content.decode()
    assert "Pallet of the other lot" in answer.content.decode()
    done = client.post(address, {**sent, "units": "3"})
    now = Lot.objects.get(number="L-9")
    assert done.headers["Location"] == reverse("batches:lot", args=[now.pk])
    html = " ".join(client.get(done.headers["Location"]).content.decode().split())
    assert "Lot was L-1, Number of units was 4" in html
    first = Lot.objects.get(number="L-1")
    html = " ".join(client.get(reverse("batches:lot", args=[first.pk])).content.decode().split())
    assert "4 units to The Ninth Lantern (invented): recorded under this lot by mistake" in html
    assert date.fromisoformat(sent["shipped_on"]) == Shipment.objects.get(pk=shipment.pk).shipped_on

"""Mistyped numbers and volumes of batches and lots, corrected with a reason."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.batches.brews.actions import record_batch
from brewhygiene.batches.brews.balance import balance_of
from brewhygiene.batches.brews.queries import left_in
from brewhygiene.batches.corrections.actions import correct_batch, correct_lot
from brewhygiene.batches.holds import open_holds
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.corrections import BrewCorrection
from brewhygiene.batches.models.lots import Lot
from brewhygiene.batches.trace.ranks import trace_of
from brewhygiene.ledger.models import Entry
from brewhygiene.plates.actions import read_plate, send_plate
from brewhygiene.refusals import NotAllowed, Refusal
from tests.batches.scenes import Brewhouse
from tests.factories import acting, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def lot(house: Brewhouse) -> Lot:
    """10 kegs of 30 L out of 20 hL of B1, 4 of them shipped."""
    house.brewed("B1", 0)
    lot = house.packaged("L-1", house.fv, 2)
    house.shipped(lot, 3, units=4)
    return lot


def refused(call: Any) -> tuple[str | None, str]:
    before = Entry.objects.count()
    with pytest.raises(Refusal) as refusal:
        call()
    assert (Entry.objects.count(), BrewCorrection.objects.count()) == (before, 0)
    return refusal.value.field, refusal.value.code


def batch_as(house: Brewhouse, **values: Any) -> BrewCorrection:
    batch = values.pop("batch", None) or Batch.objects.get()
    return correct_batch(
        by=acting(house.hand, now=house.at(9)),
        batch=batch,
        **{"reason": " Mistyped ", **values},
    )


def lot_as(house: Brewhouse, lot: Lot, **values: Any) -> BrewCorrection:
    return correct_lot(
        by=acting(house.hand, now=house.at(9)),
        lot=lot,
        **{"number": "L-1", "units": 10, "unit_l": 30, "reason": " Mistyped ", **values},
    )


def test_batch_has_the_corrected_number_everywhere_and_the_old_one_on_record(
    house: Brewhouse, lot: Lot
) -> None:
    correction = batch_as(house, number=" b 2 ")
    batch = Batch.objects.get()
    assert (batch.number, batch.number_key) == ("b 2", "b 2")
    assert (correction.was_number, correction.is_number) == ("B1", "b 2")
    assert (correction.reason, correction.corrected_by) == ("Mistyped", house.hand)
    assert [link.fill.batch for link in batch.filled.all()] == ["b 2"]
    assert Entry.objects.get(verb="correct batch").values["was"] == "B1"
    lot.refresh_from_db()
    assert lot.batch.number == "b 2"


def test_batch_in_no_vessel_yet_is_corrected_too(house: Brewhouse) -> None:
    by = acting(house.hand, now=house.at(1))
    record_batch(by=by, number="B1", beer=house.pale, brewed_at=house.at(1), volume_hl=20)
    assert batch_as(house, number="B2").is_number == "B2"


def test_fills_of_other_batches_keep_their_number(house: Brewhouse) -> None:
    first = house.brewed("B1", 0)
    other = house.brewed("B9", 1, vessel=house.fv_2)
    batch_as(house, batch=first, number="B2")
    assert [link.fill.batch for link in other.filled.all()] == ["B9"]


def test_holds_and_traces_follow_the_corrected_number(house: Brewhouse, lot: Lot) -> None:
    plate = send_plate(
        by=acting(house.hand, now=house.at(1)),
        turnaround=house.fv.turnarounds.get(),
        point=house.point,
        medium="MRS",
        neutraliser="thiosulfate",
        incubation_c=28,
        incubation_days=7,
        taken_at=house.at(-0.1),
    )
    read_plate(by=acting(house.brewer, now=house.at(8)), plate=plate, state="positive", colonies=3)
    batch_as(house, number="B2")
    assert [one.about for one in open_holds() if one.batch] == ["batch B2"]
    assert [one.batch.number for one in trace_of(plate).batches] == ["B2"]


@pytest.mark.parametrize(
    ("values", "answer"),
    [
        ({"number": " "}, ("number", "refused")),
        ({"number": "B1"}, ("number", "refused")),
        ({"number": "b9"}, ("number", "twice")),
        ({"number": "B2", "reason": " "}, ("reason", "refused")),
    ],
)
def test_batch_that_cannot_be_corrected_so_is_refused(
    house: Brewhouse, values: dict[str, Any], answer: tuple[str, str]
) -> None:
    first = house.brewed("B1", 0)
    house.brewed("B9", 1, vessel=house.fv_2)
    assert refused(lambda: batch_as(house, batch=first, **values)) == answer


def test_batch_may_be_spelt_in_another_way(house: Brewhouse) -> None:
    house.brewed("B1", 0)
    batch_as(house, number="b1")
    assert Batch.objects.get().number == "b1"


def test_lot_follows_its_correction_and_the_volumes_with_it(house: Brewhouse, lot: Lot) -> None:
    fill = house.fv.fills.get()
    before = balance_of(lot.batch)
    assert (before.packaged, left_in(fill)) == (3.0, 17.0)
    correction = lot_as(house, lot, number="L-2", units=20, unit_l=50)
    lot.refresh_from_db()
    assert (lot.number, lot.number_key, lot.units, lot.unit_l) == ("L-2", "l-2", 20, 50)
    assert (correction.was_number, correction.was_units, correction.was_unit_l) == ("L-1", 10, 30)
    assert (correction.is_number, correction.is_units, correction.is_unit_l) == ("L-2", 20, 50)
    after = balance_of(lot.batch)
    assert (after.packaged, after.in_vessels, after.difference_hl) == (10.0, 10.0, 0)
    assert left_in(fill) == 10.0


@pytest.mark.parametrize(
    ("values", "answer"),
    [
        ({}, ("number", "refused")),
        ({"number": ""}, ("number", "refused")),
        ({"number": "l-9"}, ("number", "twice")),
        ({"units": 11, "reason": ""}, ("reason", "refused")),
        ({"units": 0}, ("units", "refused")),
        ({"unit_l": 0}, ("unit_l", "refused")),
        ({"unit_l": 10_001}, ("unit_l", "refused")),
        ({"units": 3}, ("units", "unbalanced")),
        # 16.7 hL are left, and the 2 % of 20 hL that a dipstick may be off by: 16.8 more, not 17.4.
        ({"units": 66}, None),
        ({"units": 68}, ("units", "unbalanced")),
        ({"units": 4}, None),
    ],
)
def test_lot_is_corrected_within_what_was_there_and_shipped(
    house: Brewhouse, lot: Lot, values: dict[str, Any], answer: tuple[str, str] | None
) -> None:
    house.packaged("L-9", house.fv, 4, units=1)
    if answer is None:
        lot_as(house, lot, **values)
        lot.refresh_from_db()
        assert lot.units == values["units"]
    else:
        assert refused(lambda: lot_as(house, lot, **values)) == answer


def test_corrections_are_for_those_who_work_in_the_cellar(house: Brewhouse, lot: Lot) -> None:
    for user in (house.owner, make_user()):
        by = acting(user, now=house.at(9))
        with pytest.raises(NotAllowed):
            correct_batch(by=by, batch=lot.batch, number="B2", reason="x")
        with pytest.raises(NotAllowed):
            correct_lot(by=by, lot=lot, number="L-2", units=10, unit_l=30, reason="x")


def test_pages_correct_and_show_what_was_first(house: Brewhouse, lot: Lot) -> None:
    client = Client()
    client.force_login(house.hand)
    address = reverse("batches:correct_batch", args=[lot.batch_id])
    assert 'value="B1"' in client.get(address).content.decode()
    answer = client.post(address, {"number": "B2", "reason": ""})
    assert answer.status_code == 422
    assert 'value="B2"' in answer.content.decode()
    html = client.post(address, {"number": "B2", "reason": "Slip"}, follow=True).content.decode()
    assert "Batch B1 corrected to B2." in html
    assert "<strong>B1</strong>" in html
    address = reverse("batches:correct_lot", args=[lot.pk])
    sent = {"number": "L-2", "units": "12", "unit_l": "30", "reason": "Counted again"}
    html = client.post(address, {**sent, "units": "3"}).content.decode()
    assert "4 units of lot L-1 were shipped. Enter at least that." in html
    html = client.post(address, sent, follow=True).content.decode()
    assert "<strong>L-1</strong>, 10 units of 30 L" in html
    assert "Counted again" in html

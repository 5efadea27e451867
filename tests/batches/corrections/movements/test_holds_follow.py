"""Holds follow a correction: what it brings into reach is held, and what it takes out stays so."""

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.batches.crops.actions import hold
from brewhygiene.batches.holds import open_holds
from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.corrections import HoldNote
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.recall.ways import both_ways
from brewhygiene.batches.trace.ranks import trace_of
from brewhygiene.ledger.models import Entry
from brewhygiene.plates.models import Plate
from brewhygiene.refusals import Refusal
from tests.batches.corrections.movements.acts import corrected, the
from tests.batches.scenes import Brewhouse
from tests.factories import acting


def held() -> list[str]:
    return [one.about for one in open_holds().order_by("pk") if one.batch or one.crop]


def noted() -> list[str]:
    return [note.hold.about for note in HoldNote.objects.select_related("hold").order_by("pk")]


@pytest.fixture
def plate(house: Brewhouse) -> Plate:
    """B1 in FV grew; B1 went into BT as blend B3, it was recorded; B2 in FV two has no plate."""
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    house.moved(house.fv, house.bt, 50, volume_hl=10, batch="B3")
    house.shipped(house.packaged("L-1", house.bt, 60), 61)
    house.cropped("Y-1", 62, source=house.bt, generation=1)
    return house.grew(house.fv, 0.5, 130)


def test_batch_that_is_no_longer_touched_keeps_its_hold_and_says_why(
    house: Brewhouse, plate: Plate
) -> None:
    assert held() == ["batch B1", "batch B3", "yeast crop Y-1"]
    done = corrected(house, the("transfer"), vessel=house.fv_2)
    assert [one.batch.number for one in trace_of(plate).batches] == ["B1"]
    assert held() == ["batch B1", "batch B3", "yeast crop Y-1"]
    assert noted() == ["batch B3", "yeast crop Y-1"]
    with pytest.raises(Refusal) as refused:
        house.packaged("L-2", house.bt, 201)
    assert refused.value.code == "held"
    client = Client()
    client.force_login(house.brewer)
    blend = Batch.objects.get(number="B3")
    html = client.get(reverse("batches:batch", args=[blend.pk])).content.decode()
    assert "No longer touched since a correction: Read off the wrong line." in html
    assert f"Signed by {done.signature.printed_name}" in html
    # Only a signed decision ends it.
    house.ruled(Hold.objects.get(batch=blend), "release", 202)
    assert held() == ["batch B1", "yeast crop Y-1"]


def test_batch_that_a_correction_brings_into_reach_is_held(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    house.moved(house.fv_2, house.bt, 50, volume_hl=10, batch="B3")
    lot = house.packaged("L-1", house.bt, 60)
    plate = house.grew(house.fv, 0.5, 130)
    assert held() == ["batch B1"]
    corrected(house, the("transfer"), vessel=house.fv)
    assert held() == ["batch B1", "batch B3"]
    assert noted() == []
    assert Hold.objects.get(batch__number="B3").plate == plate
    assert Entry.objects.get(verb="correct movement").values["held"] == [
        "batch B3",
        "the equipment and what went through it",
    ]
    with pytest.raises(Refusal) as refused:
        house.shipped(lot, 201)
    assert refused.value.code == "held"


def test_time_brings_a_filling_into_the_bounds_of_a_plate(house: Brewhouse) -> None:
    """The negative plate of 72 ends what the positive one of 70:36 puts at risk."""
    house.brewed("B1", 40)
    house.ready(house.bt, 71)
    house.moved(house.fv, house.bt, 72.5, volume_hl=10, batch="B3", ready=False)
    house.grew(house.bt, 72, 119, state="negative")
    house.grew(house.bt, 70.6, 120)
    assert held() == []
    corrected(house, the("transfer"), at=72)
    assert held() == []
    corrected(house, the("transfer"), at=71.5)
    assert held() == ["batch B3"]
    corrected(house, the("transfer"), at=72.2)
    assert (held(), noted()) == (["batch B3"], ["batch B3"])


def test_hold_by_hand_goes_on_to_what_comes_of_its_batch(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    house.moved(house.fv, house.bt, 50, volume_hl=10, batch="B3")
    house.cropped("Y-1", 62, source=house.bt, generation=1)
    b2 = Batch.objects.get(number="B2")
    hold(by=acting(house.hand, now=house.at(65)), subject=b2, reason="Smells")
    corrected(house, the("transfer"), vessel=house.fv_2)
    assert [(one.about, one.reason) for one in open_holds().order_by("pk")] == [
        ("batch B2", "Smells"),
        ("batch B3", "batch B2: Smells"),
        ("yeast crop Y-1", "batch B3: batch B2: Smells"),
    ]
    # And back again: it is held still, with a note.
    corrected(house, the("transfer"), hours=210, vessel=house.fv)
    assert held() == ["batch B2", "batch B3", "yeast crop Y-1"]
    assert noted() == ["batch B3"]


def test_filling_moved_away_from_a_held_batch_takes_the_hold_along(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.brewed("B2", 0.5, vessel=house.fv_2)
    b1 = Batch.objects.get(number="B1")
    hold(by=acting(house.hand, now=house.at(65)), subject=b1, reason="Smells")
    corrected(house, the("brew", to_fill__vessel=house.fv), batch="B2")
    assert held() == ["batch B1", "batch B2"]


def test_filling_moved_to_another_batch_is_held_by_its_plate(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.brewed("B2", 0.5, vessel=house.fv_2)
    house.grew(house.fv, 0.5, 130)
    assert held() == ["batch B1"]
    corrected(house, the("brew", to_fill__vessel=house.fv), batch="B2")
    assert held() == ["batch B1", "batch B2"]
    assert noted() == ["batch B1"]


def test_vessel_that_was_really_filled_after_its_plate_holds_the_batch(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.ready(house.bt, 50)
    house.moved(house.fv, house.bt_2, 51, volume_hl=10, batch="B3")
    house.grew(house.bt, 49.7, 120)
    assert held() == []
    corrected(house, the("transfer"), to_vessel=house.bt)
    assert held() == ["batch B3"]


def test_recall_goes_by_the_corrected_way(house: Brewhouse) -> None:
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    house.moved(house.fv, house.bt, 50, volume_hl=10, batch="B3")
    lot = house.packaged("L-1", house.bt, 60)
    assert [one.split(",")[0] for one in both_ways(lot)["batches"]] == ["B3", "B1"]
    corrected(house, the("transfer"), vessel=house.fv_2)
    found = both_ways(lot)
    assert [one.split(",")[0] for one in found["batches"]] == ["B3", "B2"]
    assert found["vessels"] == ["BT one", "FV two"]

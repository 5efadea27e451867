"""Batches as pages: who may, what is refused beside its field with nothing lost, queries."""

from typing import Any

import pytest
from django.db import connection
from django.http import HttpResponse
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.holds import Hold, HoldDecision
from brewhygiene.batches.models.lots import Lot, RecallDrill, Shipment
from brewhygiene.batches.models.movements import Movement
from brewhygiene.cellar.models import Fill
from tests import clock
from tests.batches.scenes import HOUR, Brewhouse
from tests.batches.test_holds import grown
from tests.factories import PASSWORD, make_user
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def house(db: None) -> Brewhouse:
    """The scene's plate has just been read: the clock of the pages stands at its hour 131."""
    return Brewhouse(began=clock.now() - 131 * HOUR)


def text_of(response: HttpResponse) -> str:
    return response.content.decode().replace("&#x27;", "'")


def addresses(house: Brewhouse) -> dict[str, str]:
    plate = grown(house)
    batch, crop, lot = (
        Batch.objects.get(number="B1"),
        YeastCrop.objects.get(number="Y-1"),
        Lot.objects.get(),
    )
    vessel = [house.bt.pk]
    return {
        "batches": reverse("batches:batches"),
        "crops": reverse("batches:crops"),
        "lots": reverse("batches:lots"),
        "batch": reverse("batches:batch", args=[batch.pk]),
        "crop": reverse("batches:crop", args=[crop.pk]),
        "lot": reverse("batches:lot", args=[lot.pk]),
        "trace": reverse("batches:trace", args=[plate.pk]),
        "find": reverse("batches:find") + "?q=b",
        "record": reverse("batches:record"),
        "bought": reverse("batches:bought"),
        "ship": reverse("batches:ship", args=[lot.pk]),
        "hold_batch": reverse("batches:hold_batch", args=[batch.pk]),
        "hold_crop": reverse("batches:hold_crop", args=[crop.pk]),
        "crop_plate": reverse("batches:crop_plate", args=[crop.pk]),
        "pitch": reverse("batches:pitch", args=vessel),
        "transfer": reverse("batches:transfer", args=vessel),
        "dry_hop": reverse("batches:dry_hop", args=vessel),
        "crop_yeast": reverse("batches:crop_yeast", args=vessel),
        "package": reverse("batches:package", args=vessel),
        "dump": reverse("batches:dump", args=vessel),
        "correct_movement": reverse(
            "batches:correct_movement", args=[Movement.objects.get(kind="transfer").pk]
        ),
        "decide": reverse("batches:decide", args=[Hold.objects.first().pk]),
    }


LOOKED_AT = {"batches", "crops", "lots", "batch", "crop", "lot", "trace", "find"}
DECIDED = {"decide"}


def test_pages_open_to_the_right_roles(house: Brewhouse) -> None:
    """To look at for anybody; to write for the cellar; to decide for the head brewer."""
    found = {}
    people = {"hand": house.hand, "brewer": house.brewer, "owner": house.owner, "no": make_user()}
    to = addresses(house)
    for name, address in to.items():
        assert Client().get(address).status_code == 302
        found[name] = {
            who for who, p in people.items() if signed_in(p).get(address).status_code == 200
        }
    assert found == {
        name: set(people)
        if name in LOOKED_AT
        else {"brewer"}
        if name in DECIDED
        else {"hand", "brewer"}
        for name in to
    }


def test_nothing_is_written_by_the_wrong_role(house: Brewhouse) -> None:
    to = addresses(house)
    rows = (Batch, YeastCrop, Movement, Fill, Lot, Shipment, Hold, HoldDecision, RecallDrill)
    before = [model.objects.count() for model in rows]
    drill = reverse("batches:begin_drill", args=[Lot.objects.get().pk])
    wrong = {
        name: [house.owner, make_user()] + ([house.hand] if name in DECIDED else [])
        for name in to
        if name not in LOOKED_AT
    }
    for name, people in wrong.items():
        for person in people:
            assert signed_in(person).post(to[name], {}).status_code == 403, name
    assert signed_in(house.hand).post(drill).status_code == 403
    assert [model.objects.count() for model in rows] == before


# --- refused beside its field, and nothing typed is lost ---


def transferred(house: Brewhouse, **values: Any) -> HttpResponse:
    house.brewed("B1", 100)
    house.ready(house.bt, 130.5)
    return signed_in(house.hand).post(
        reverse("batches:transfer", args=[house.fv.pk]),
        {
            "to_vessel": house.bt.pk,
            "volume_hl": "18,5",
            "loss_hl": "0,4",
            "loss_reason": "Trub, thick as porridge",
            "through": [house.hose.pk],
            **values,
        },
    )


def test_transfer_is_recorded_from_its_form(house: Brewhouse) -> None:
    response = transferred(house)
    assert (response.status_code, response.headers["Location"]) == (
        302,
        reverse("board:vessel", args=[house.bt.pk]),
    )
    movement = Movement.objects.get(kind="transfer")
    assert (movement.volume_hl, movement.loss_hl) == (18.5, 0.4)
    assert movement.moved_at == clock.now()
    assert [str(one) for one in movement.touches.filter(vessel=house.hose)] == ["Hose one"]


@pytest.mark.parametrize(
    "values, message",
    [
        ({"to_vessel": "bt_2"}, "BT two is not released"),
        ({"volume_hl": "20,5"}, "More would leave"),
        ({"loss_reason": ""}, "Enter where the loss went."),
        ({"empties": "on"}, "are not accounted for"),
        ({"vessel_2": "fv"}, "Select a valid choice"),
        ({"volume_hl_2": "3"}, "Choose a vessel."),
        ({"moved_at": "2001-01-01T00:00"}, "within the last 60 days"),
    ],
)
def test_refused_transfer_comes_back_with_all_that_was_typed(
    house: Brewhouse, values: dict[str, Any], message: str
) -> None:
    sent = {
        name: getattr(house, value).pk if name in ("to_vessel", "vessel_2") else value
        for name, value in values.items()
    }
    response = transferred(house, **sent)
    html = text_of(response)
    assert response.status_code == 422
    assert message in html
    assert Movement.objects.filter(kind="transfer").count() == 0
    if "volume_hl" not in values:
        assert 'value="18,5"' in html
    if "loss_reason" not in values:
        assert "Trub, thick as porridge" in html
    hose = f'value="{house.hose.pk}"'
    assert (
        f'{hose} id="id_through_1" checked' in html
        or f"{hose} checked" in html
        or (html.split(hose)[1].split(">")[0].find("checked") >= 0)
    )


def test_second_batch_of_a_number_comes_back_with_its_number(house: Brewhouse) -> None:
    house.brewed("B1", 100)
    response = signed_in(house.hand).post(
        reverse("batches:record"),
        {
            "number": "b1",
            "beer": house.pale.pk,
            "volume_hl": "20",
            "brewed_at": timezone.localtime(clock.now()).strftime("%Y-%m-%dT%H:%M"),
        },
    )
    html = text_of(response)
    assert response.status_code == 422
    assert "Batch B1 is already recorded" in html
    assert 'value="b1"' in html
    assert Batch.objects.count() == 1


def test_held_crop_is_marked_and_refused_beside_its_field(house: Brewhouse) -> None:
    grown(house)
    client = signed_in(house.hand)
    address = reverse("batches:pitch", args=[house.bt.pk])
    crop = YeastCrop.objects.get(number="Y-1")
    assert "Y-1, generation 1, held" in text_of(client.get(address))
    response = client.post(address, {"crop": crop.pk, "volume_l": "12"})
    html = text_of(response)
    assert response.status_code == 422
    assert "Yeast crop y-1 is held" in html or "Yeast crop Y-1 is held" in html
    assert 'value="12"' in html
    assert f'<option value="{crop.pk}" selected>' in html


def test_decision_is_signed_on_its_page_and_leads_back_to_the_trace(house: Brewhouse) -> None:
    plate = grown(house)
    hold = Hold.objects.get(batch__number="B1")
    client = signed_in(house.brewer)
    address = reverse("batches:decide", args=[hold.pk])
    refused = client.post(address, {"choice": "release", "reason": "Fine", "password": "wrong"})
    assert refused.status_code == 422
    assert "This is not your password." in text_of(refused)
    assert ">Fine</textarea>" in text_of(refused).replace("\n", "")
    done = client.post(address, {"choice": "recall", "reason": "Sour", "password": PASSWORD})
    assert (done.status_code, done.headers["Location"]) == (
        302,
        reverse("batches:trace", args=[plate.pk]),
    )
    assert HoldDecision.objects.get().choice == "recall"
    assert "recalled" in text_of(client.get(done.headers["Location"]))


def test_plate_its_vessel_and_the_board_show_what_is_open(house: Brewhouse) -> None:
    plate = grown(house)
    client = signed_in(house.brewer)
    page = text_of(client.get(reverse("plates:plate", args=[plate.pk])))
    for about in ("Batch B1", "Yeast crop Y-1", "Batch B2"):
        assert f">{about}</a>: no decision yet</li>" in page
    assert "<strong>4 decisions open</strong>" in text_of(client.get(reverse("plates:due")))
    assert "<strong>4 decisions open</strong>" in text_of(client.get("/"))
    assert text_of(client.get("/")).count("Batch held") == 4
    vessel = text_of(client.get(reverse("board:vessel", args=[house.bt.pk])))
    assert "Batches at risk" in vessel
    house.ruled(Hold.objects.get(batch__number="B1"), "destroy", 131)
    page = text_of(client.get(reverse("plates:plate", args=[plate.pk])))
    assert ">Batch B1</a>: destroy<" in page
    assert "<strong>3 decisions open</strong>" in text_of(client.get(reverse("plates:due")))


def test_release_of_the_vessel_shows_which_holds_remain(house: Brewhouse) -> None:
    grown(house)
    turnaround = house.emptied(vessel=house.fv, now=house.at(130.5), beer=None)
    html = text_of(signed_in(house.brewer).get(reverse("release:decide", args=[turnaround.pk])))
    assert "Holds that remain" in html
    assert ">Batch B1</a>" in html


def test_drill_is_begun_and_ended_on_its_pages(house: Brewhouse) -> None:
    grown(house)
    client, lot = signed_in(house.brewer), Lot.objects.get()
    client.post(reverse("batches:begin_drill", args=[lot.pk]))
    drill = RecallDrill.objects.get()
    address = reverse("batches:drill", args=[drill.pk])
    assert "The Ninth Lantern" in text_of(client.get(address))
    refused = client.post(address, {"in_stock": "40", "lost": "0", "explanation": ""})
    assert refused.status_code == 422
    assert "6 units missing: 50 produced, 4 shipped, 40 in stock, 0 lost." in text_of(refused)
    assert 'value="40"' in text_of(refused)
    done = client.post(address, {"in_stock": "46", "lost": "0"})
    assert done.status_code == 200
    assert RecallDrill.objects.get().found["units"]["difference"] == 0


# --- finding ---


@pytest.mark.parametrize(
    "words, to",
    [
        ("b1", "batch"),
        ("  B1 ", "batch"),
        ("y-1", "crop"),
        ("L-1", "lot"),
        ("bt ONE", "vessel"),
    ],
)
def test_exact_number_leads_straight_to_its_page(house: Brewhouse, words: str, to: str) -> None:
    grown(house)
    pages = {
        "batch": reverse("batches:batch", args=[Batch.objects.get(number="B1").pk]),
        "crop": reverse("batches:crop", args=[YeastCrop.objects.get(number="Y-1").pk]),
        "lot": reverse("batches:lot", args=[Lot.objects.get().pk]),
        "vessel": reverse("board:vessel", args=[house.bt.pk]),
    }
    response = signed_in(house.owner).get(reverse("batches:find"), {"q": words})
    assert (response.status_code, response.headers.get("Location")) == (302, pages[to])


def test_part_of_a_number_lists_all_that_have_it(house: Brewhouse) -> None:
    grown(house)
    client = signed_in(house.hand)
    html = text_of(client.get(reverse("batches:find"), {"q": "-1"}))
    assert 'count">2<' in html.replace("\n", "") or ">2<" in html
    assert ">Y-1<" in html.replace("\n", "")
    assert "Nothing has “zzz”" in text_of(client.get(reverse("batches:find"), {"q": "zzz"}))
    assert text_of(client.get(reverse("batches:find"))).count("Nothing has") == 0


def test_two_things_of_one_number_are_both_listed(house: Brewhouse) -> None:
    house.bought("X-1", hours=1)
    house.brewed("X-1", 100)
    response = signed_in(house.hand).get(reverse("batches:find"), {"q": "x-1"})
    assert response.status_code == 200
    assert text_of(response).count("X-1") >= 2


def test_every_page_has_the_search_field(house: Brewhouse) -> None:
    html = text_of(signed_in(house.hand).get(reverse("plates:due")))
    assert html.count(f'action="{reverse("batches:find")}"') == 2


# --- queries ---

# A page of movements asks for their corrections, one of holds for their notes.
QUERIES = {"batches": 9, "batch": 19, "crop": 11, "lot": 20, "trace": 25, "find": 9}


def test_pages_take_the_same_queries_for_little_and_for_more(house: Brewhouse) -> None:
    to = addresses(house)
    client = signed_in(house.brewer)
    house.ruled(Hold.objects.get(batch__number="B1"), "hold", 131)
    for more in (False, True):
        if more:
            house.moved(house.fv_2, house.bt_2, 131, batch="B9", volume_hl=5)
            house.cropped("Y-7", 131, source=house.fv_2)
            house.shipped(_shippable(house), 131)
        asked = {}
        for name in QUERIES:
            with CaptureQueriesContext(connection) as queries:
                assert client.get(to[name]).status_code == 200
            asked[name] = len(queries)
        assert asked == QUERIES


def _shippable(house: Brewhouse) -> Lot:
    house.ruled(Hold.objects.get(batch__number="B1"), "release", 131)
    return Lot.objects.get()

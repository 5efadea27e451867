"""The page of a correction: who may, what is refused beside its field, what stands beside."""

from datetime import timedelta

import pytest
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from brewhygiene.batches.models.batches import Batch
from brewhygiene.batches.models.corrections import MovementCorrection
from brewhygiene.batches.models.movements import Movement
from tests import clock
from tests.batches.corrections.movements.acts import corrected, the
from tests.batches.scenes import HOUR, Brewhouse
from tests.batches.test_dumps import dumped
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db


@pytest.fixture
def house(db: None) -> Brewhouse:
    """12 hL of B1 in FV went into BT; B2 is in FV two. The clock stands at hour 131."""
    house = Brewhouse(began=clock.now() - 131 * HOUR)
    house.brewed("B1", 1)
    house.brewed("B2", 2, vessel=house.fv_2)
    house.moved(house.fv, house.bt, 50, volume_hl=12, through=(house.hose,))
    return house


@pytest.fixture
def client(house: Brewhouse) -> Client:
    client = Client()
    client.force_login(house.hand)
    return client


def text_of(response: HttpResponse) -> str:
    return " ".join(response.content.decode().replace("&#x27;", "'").split())


def sent(house: Brewhouse, movement: Movement, **values: str) -> dict[str, str]:
    """What its form has when nothing is changed."""
    return {
        "vessel": str(house.fv.pk),
        "to_vessel": str(house.bt.pk),
        "batch": "B1",
        "volume_hl": "12",
        "loss_hl": "0",
        "moved_at": timezone.localtime(movement.moved_at).strftime("%Y-%m-%dT%H:%M"),
        "reason": "Wrong line of the log",
        "password": PASSWORD,
        "revision_seen": "0",
        **values,
    }


def test_form_begins_with_what_is_recorded(house: Brewhouse, client: Client) -> None:
    address = reverse("batches:correct_movement", args=[the("transfer").pk])
    html = text_of(client.get(address))
    assert f'<option value="{house.fv.pk}" selected>' in html
    assert f'<option value="{house.bt.pk}" selected>' in html
    assert 'value="B1"' in html
    assert 'value="12"' in html
    assert "Volume that arrived" in html


@pytest.mark.parametrize(
    "kind, names",
    [
        ("brew", {"to_vessel", "batch", "volume_hl"}),
        ("transfer", {"vessel", "to_vessel", "batch", "volume_hl", "loss_hl", "loss_reason"}),
        ("package", {"vessel", "loss_hl", "loss_reason"}),
        ("dump", {"vessel", "volume_hl"}),
    ],
)
def test_each_kind_has_the_fields_that_it_can_use(
    house: Brewhouse, client: Client, kind: str, names: set[str]
) -> None:
    house.packaged("L-1", house.bt, 60)
    dumped(house, house.fv, 61, volume_hl=1)
    movement = Movement.objects.filter(kind=kind).first()
    assert movement is not None
    form = client.get(reverse("batches:correct_movement", args=[movement.pk])).context["form"]
    own = {"moved_at", "reason", "password"}
    assert {field.name for field in form.visible_fields()} == names | own


def test_movement_of_another_kind_has_no_such_page(house: Brewhouse, client: Client) -> None:
    pitched = house.pitched(house.bought(), 3)
    assert client.get(reverse("batches:correct_movement", args=[pitched.pk])).status_code == 404


@pytest.mark.parametrize(
    "values, message",
    [
        ({"password": "wrong"}, "This is not your password."),
        ({"reason": ""}, "Enter a reason."),
        ({"volume_hl": "25"}, "More would leave"),
        ({"batch": "B7"}, "No batch B7 is recorded."),
        ({"loss_hl": "1"}, "Enter where the loss went."),
        ({}, "Enter something different. This is recorded."),
    ],
)
def test_refused_correction_comes_back_with_all_that_was_typed(
    house: Brewhouse, client: Client, values: dict[str, str], message: str
) -> None:
    movement = the("transfer")
    address = reverse("batches:correct_movement", args=[movement.pk])
    response = client.post(address, sent(house, movement, **values))
    html = text_of(response)
    assert response.status_code == 422
    assert message in html
    assert MovementCorrection.objects.count() == 0
    if "reason" not in values:
        assert "Wrong line of the log" in html
    if "volume_hl" in values:
        assert 'value="25"' in html


def test_correction_is_signed_and_what_was_first_stands_beside(
    house: Brewhouse, client: Client
) -> None:
    movement = the("transfer")
    address = reverse("batches:correct_movement", args=[movement.pk])
    values = {"volume_hl": "11", "loss_hl": "0,5", "loss_reason": "Trub"}
    done = client.post(address, sent(house, movement, **values))
    batch = reverse("batches:batch", args=[Batch.objects.get(number="B1").pk])
    assert (done.status_code, done.headers["Location"]) == (302, batch)
    html = text_of(client.get(batch))
    assert "Wrong line of the log" in html
    assert "Volume was 12 hL" in html
    assert f"Corrected by {house.hand.display_name}" in html


def test_batch_that_it_was_recorded_under_says_where_it_went(
    house: Brewhouse, client: Client
) -> None:
    corrected(house, the("transfer"), hours=130, vessel=house.fv_2)
    dump = dumped(house, house.fv, 130.2, volume_hl=1)
    corrected(house, dump.movement, hours=130.5, vessel=house.fv_2)
    html = text_of(client.get(reverse("batches:batch", args=[Batch.objects.get(number="B1").pk])))
    assert html.count("recorded under this batch by mistake, now batch B2") == 2
    html = text_of(client.get(reverse("batches:batch", args=[Batch.objects.get(number="B2").pk])))
    assert "Batch was B1" in html
    assert "recorded under this batch by mistake" not in html


def test_second_correction_from_a_form_that_knew_of_none_is_refused_beside_what_changed(
    house: Brewhouse, client: Client
) -> None:
    """Nobody undoes a correction without having seen it: what was typed waits beside it."""
    movement = the("transfer")
    address = reverse("batches:correct_movement", args=[movement.pk])
    corrected(house, movement, hours=130, volume_hl=11, reason="Flow meter")
    response = client.post(address, sent(house, movement, loss_hl="0.3", loss_reason="Trub"))
    assert response.status_code == 422
    said = f"{house.hand.display_name} corrected this while the form was open: Flow meter."
    assert said in response.context["form"].errors["volume_hl"][0]
    html = text_of(response)
    assert "Corrected before" in html
    assert "Volume was 12 hL" in html
    assert "Trub" in html
    assert 'name="revision_seen" value="1"' in html
    assert MovementCorrection.objects.count() == 1
    # A wrong password does not hide it either, and once it was seen it may be signed.
    wrong = client.post(address, sent(house, movement, password="wrong"))
    assert "notice-warning" in text_of(wrong)
    values = {"volume_hl": "11.5", "revision_seen": "1"}
    assert client.post(address, sent(house, movement, **values)).status_code == 302
    assert [one.became["volume_hl"] for one in movement.corrections.all()] == [11, 11.5]


def test_form_without_what_it_knew_corrects_nothing(house: Brewhouse, client: Client) -> None:
    movement = the("transfer")
    values = sent(house, movement, volume_hl="11")
    del values["revision_seen"]
    address = reverse("batches:correct_movement", args=[movement.pk])
    assert client.post(address, values).status_code == 422
    assert MovementCorrection.objects.count() == 0


# --- found by an old number ---


def test_old_number_is_found_and_says_what_it_is_now(house: Brewhouse, client: Client) -> None:
    lot = house.packaged("L-1", house.bt, 60)
    batch = Batch.objects.get(number="B1")
    for address, values in (
        (reverse("batches:correct_batch", args=[batch.pk]), {"number": "Ä-7"}),
        (
            reverse("batches:correct_lot", args=[lot.pk]),
            {"number": "L-9", "units": "10", "unit_l": "30"},
        ),
    ):
        assert client.post(address, {**values, "reason": "Mistyped"}).status_code == 302
    page = client.get(reverse("batches:find"), {"q": " b1"})
    assert page.status_code == 200
    assert "<span>now Ä-7</span>" in text_of(page)
    assert reverse("batches:batch", args=[batch.pk]) in text_of(page)
    assert "<span>now L-9</span>" in text_of(client.get(reverse("batches:find"), {"q": "l-1"}))
    straight = client.get(reverse("batches:find"), {"q": "ä-7"})
    assert straight.headers["Location"] == reverse("batches:batch", args=[batch.pk])
    # Renumbered twice, it is one hit.
    again = reverse("batches:correct_batch", args=[batch.pk])
    client.post(again, {"number": "B1-new", "reason": "Once more"})
    html = text_of(client.get(reverse("batches:find"), {"q": "b1"}))
    assert html.count(f'href="{reverse("batches:batch", args=[batch.pk])}"') == 1
    assert "now B1-new" not in html
    html = text_of(client.get(reverse("batches:find"), {"q": "ä-7"}))
    assert "<span>now B1-new</span>" in html


def test_old_number_that_another_batch_has_now_leads_to_that_one_first(
    house: Brewhouse, client: Client
) -> None:
    b1, b2 = Batch.objects.get(number="B1"), Batch.objects.get(number="B2")
    for batch, number in ((b1, "B9"), (b2, "B1")):
        address = reverse("batches:correct_batch", args=[batch.pk])
        assert client.post(address, {"number": number, "reason": "Swapped"}).status_code == 302
    html = text_of(client.get(reverse("batches:find"), {"q": "B1"}))
    assert "<span>now B9</span>" in html
    assert html.index(reverse("batches:batch", args=[b2.pk])) < html.index("now B9")


def test_time_in_the_form_is_the_time_of_the_clock_there(house: Brewhouse, client: Client) -> None:
    movement = the("transfer")
    address = reverse("batches:correct_movement", args=[movement.pk])
    later = timezone.localtime(movement.moved_at + timedelta(hours=1))
    typed = {"moved_at": later.strftime("%Y-%m-%dT%H:%M")}
    assert client.post(address, sent(house, movement, **typed)).status_code == 302
    movement.refresh_from_db()
    assert movement.moved_at == later.replace(second=0, microsecond=0)

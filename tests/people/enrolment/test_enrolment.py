"""Tablets of the floor: enrolled on themselves, named in the ledger, retired when lost."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.ledger.models import Entry
from brewhygiene.people import actions as people
from brewhygiene.people.enrolment import actions
from brewhygiene.people.models import Tablet, User
from brewhygiene.people.tablets import COOKIE
from brewhygiene.refusals import NotAllowed, Refusal
from tests.factories import PASSWORD, acting, make_brewery, make_cellar_hand, make_head_brewer

pytestmark = pytest.mark.django_db
PIN = "5093"
TABLETS = "/set-up/tablets/"


@pytest.fixture
def mara() -> User:
    make_brewery()
    return make_head_brewer(username="mara", full_name="Mara Oduya", initials="MO")


@pytest.fixture
def jonas() -> User:
    person = make_cellar_hand(username="jonas", full_name="Jonas Feld", initials="JF")
    people.set_own_pin(by=acting(person), new_pin=PIN, password=PASSWORD)
    return User.objects.get(pk=person.pk)


def signed_in_by_password(person: User) -> Client:
    client = Client()
    client.post("/sign-in/", {"username": person.username, "password": PASSWORD})
    return client


def enrol(client: Client, name: str = "Cellar 1", **given: str) -> Any:
    return client.post(TABLETS, {"name": name, "password": PASSWORD, **given})


def by_pin(client: Client, person: User) -> Any:
    return client.post("/switch/", {"person": person.pk, "pin": PIN})


def who(client: Client) -> str | None:
    return client.session.get("_auth_user_id")


def test_tablet_in_hand_is_enrolled_and_entries_name_it(mara: User, jonas: User) -> None:
    tablet = signed_in_by_password(mara)
    assert enrol(tablet, " Cellar  1 ").status_code == 302
    assert Tablet.objects.get().name == "Cellar 1"
    assert by_pin(tablet, jonas).status_code == 302
    tablet.post("/pin/", {"remove": "1"})
    assert Entry.objects.last().address == "Cellar 1, 127.0.0.1"  # type: ignore[union-attr]


def test_entry_from_elsewhere_has_the_address_alone(mara: User) -> None:
    enrol(signed_in_by_password(mara))
    office = signed_in_by_password(mara)
    office.post("/pin/", {"remove": "1"})
    assert Entry.objects.last().address == "127.0.0.1"  # type: ignore[union-attr]


def test_until_one_is_enrolled_every_known_tablet_takes_pins(mara: User, jonas: User) -> None:
    tablet = signed_in_by_password(mara)
    assert by_pin(tablet, jonas).status_code == 302
    assert who(tablet) == str(jonas.pk)


def test_from_the_first_on_only_enrolled_ones_do(mara: User, jonas: User) -> None:
    enrol(signed_in_by_password(mara))
    other = signed_in_by_password(mara)
    page = other.get(f"/switch/?person={jonas.pk}").content.decode()
    assert "PINs work on enrolled tablets only" in page
    assert "pin_form" not in page
    refused = by_pin(other, jonas)
    assert refused.status_code == 422
    assert "This tablet is not enrolled. Enter the password." in str(refused.context["form"].errors)
    assert who(other) == str(mara.pk)


def test_retired_tablet_offers_no_names_and_takes_no_pins(mara: User, jonas: User) -> None:
    kept, lost = signed_in_by_password(mara), signed_in_by_password(mara)
    enrol(kept, "Cellar 1")
    enrol(lost, "Cellar 2")
    row = Tablet.objects.get(name="Cellar 2")
    assert kept.post(f"{TABLETS}{row.pk}/retire/", {"password": PASSWORD}).status_code == 302
    assert by_pin(lost, jonas).status_code == 422
    lost.post("/sign-out/")
    assert lost.get("/switch/")["Location"] == "/sign-in/"
    assert lost.get("/")["Location"] == "/sign-in/?next=/"
    assert by_pin(kept, jonas).status_code == 302


def test_last_one_retired_opens_pins_to_every_known_tablet_but_itself(
    mara: User, jonas: User
) -> None:
    lost = signed_in_by_password(mara)
    enrol(lost)
    actions.retire_tablet(by=acting(mara), tablet=Tablet.objects.get(), password=PASSWORD)
    lost.post("/sign-out/")
    assert by_pin(lost, jonas)["Location"] == "/sign-in/"
    assert by_pin(signed_in_by_password(mara), jonas).status_code == 302


def test_retired_mark_is_never_enrolled_again(mara: User) -> None:
    tablet = signed_in_by_password(mara)
    enrol(tablet)
    actions.retire_tablet(by=acting(mara), tablet=Tablet.objects.get(), password=PASSWORD)
    refused = enrol(tablet, "Cellar 9")
    assert refused.status_code == 422
    assert "was retired as Cellar 1" in str(refused.context["form"].errors)
    assert Tablet.objects.count() == 1


def test_name_of_a_retired_one_is_free_again(mara: User) -> None:
    enrol(signed_in_by_password(mara))
    actions.retire_tablet(by=acting(mara), tablet=Tablet.objects.get(), password=PASSWORD)
    assert enrol(signed_in_by_password(mara)).status_code == 302
    assert Tablet.objects.filter(name="Cellar 1").count() == 2


@pytest.mark.parametrize("name", ["cellar 1", "Cellar  1"])
def test_name_of_another_is_refused_beside_its_field(mara: User, name: str) -> None:
    enrol(signed_in_by_password(mara))
    refused = enrol(signed_in_by_password(mara), name)
    assert refused.context["form"].errors["name"] == [
        "Another tablet is called Cellar 1. Choose another name."
        if name != "cellar 1"
        else "Another tablet is called cellar 1. Choose another name."
    ]


def test_rename_keeps_what_earlier_entries_say(mara: User) -> None:
    tablet = signed_in_by_password(mara)
    enrol(tablet)
    tablet.post("/pin/", {"remove": "1"})
    row = Tablet.objects.get()
    assert tablet.get(f"{TABLETS}{row.pk}/").status_code == 200
    answer = tablet.post(f"{TABLETS}{row.pk}/", {"name": "Brewhouse", "password": PASSWORD})
    assert answer.status_code == 302
    tablet.post("/pin/", {"remove": "1"})
    said = Entry.objects.filter(verb="remove own PIN").values_list("address", flat=True)
    assert list(said.order_by("number")) == ["Cellar 1, 127.0.0.1", "Brewhouse, 127.0.0.1"]
    with pytest.raises(Refusal) as own:
        actions.rename_tablet(by=acting(mara), tablet=row, name="", password=PASSWORD)
    assert own.value.field == "name"


def test_rules_of_who_and_with_what(mara: User, jonas: User) -> None:
    row = actions.enrol_tablet(by=acting(mara), mark="first", name="First", password=PASSWORD)
    for act in (
        lambda by, password: actions.enrol_tablet(by=by, mark="m", name="X", password=password),
        lambda by, password: actions.rename_tablet(by=by, tablet=row, name="Y", password=password),
        lambda by, password: actions.retire_tablet(by=by, tablet=row, password=password),
    ):
        with pytest.raises(NotAllowed):
            act(acting(jonas), PASSWORD)
        with pytest.raises(Refusal) as wrong:
            act(acting(mara), "not it")
        assert wrong.value.field == "password"


def test_browser_without_cookies_cannot_be_enrolled(mara: User) -> None:
    with pytest.raises(Refusal) as refused:
        actions.enrol_tablet(by=acting(mara), mark="", name="Cellar 1", password=PASSWORD)
    assert refused.value.code == "no_mark"


def test_hand_looks_at_the_list_and_changes_nothing(mara: User, jonas: User) -> None:
    enrol(signed_in_by_password(mara))
    hand = signed_in_by_password(jonas)
    page = hand.get(TABLETS).content.decode()
    assert "Cellar 1" in page
    assert "Enrol this tablet" not in page
    assert enrol(hand, "Mine").status_code == 403
    assert hand.get(reverse("people:tablet", args=[Tablet.objects.get().pk])).status_code == 403


def test_page_names_the_tablet_in_hand(mara: User) -> None:
    here, elsewhere = signed_in_by_password(mara), signed_in_by_password(mara)
    enrol(here)
    assert here.get(TABLETS).content.decode().count("this tablet</span>") == 1
    assert "Enrol this tablet" not in here.get(TABLETS).content.decode()
    assert "this tablet</span>" not in elsewhere.get(TABLETS).content.decode()


def test_list_costs_the_same_for_one_and_for_three(
    mara: User, django_assert_num_queries: Any
) -> None:
    client = signed_in_by_password(mara)
    for number in (1, 2, 3):
        actions.enrol_tablet(
            by=acting(mara), mark=f"mark {number}", name=f"Cellar {number}", password=PASSWORD
        )
        with django_assert_num_queries(5):
            client.get(TABLETS)


def test_cookie_is_what_makes_the_tablet(mara: User, jonas: User) -> None:
    tablet = signed_in_by_password(mara)
    enrol(tablet)
    copy = Client()
    copy.cookies[COOKIE] = tablet.cookies[COOKIE].value + "x"
    assert copy.get("/switch/")["Location"] == "/sign-in/"

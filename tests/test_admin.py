"""The admin site: what is set up goes through the ledger's door, what happened is only read."""

import json

import pytest
from django.contrib import admin
from django.contrib.auth.models import Group
from django.test import Client
from django.urls import reverse

from brewhygiene import models as house
from brewhygiene.admin import RecordAdmin, SetUpAdmin
from brewhygiene.ledger.models import Entry
from brewhygiene.ledger.recording import check_chain
from brewhygiene.people import actions
from brewhygiene.people.models import User
from tests.factories import (
    PASSWORD,
    Cellar,
    acting,
    make_beer,
    make_brewery,
    make_cellar_hand,
    make_head_brewer,
    make_vessel,
)

pytestmark = pytest.mark.django_db
MODELS = [getattr(house, name) for name in house.__all__]
SET_UP = {
    house.User,
    house.Brewery,
    house.Vessel,
    house.Beer,
    house.Agent,
    house.Meter,
    house.AtpTest,
    house.AtpTestLot,
}


def address(model, page: str, *args) -> str:
    return reverse(f"admin:brewhygiene_{model._meta.model_name}_{page}", args=args)


@pytest.fixture
def root() -> User:
    return User.objects.create_superuser(username="root", password=PASSWORD)


@pytest.fixture
def server_room(client: Client, root: User) -> Client:
    """Who looks after the server, signed in."""
    client.force_login(root)
    return client


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
def test_every_table_is_there_and_only_set_up_may_be_edited(model) -> None:
    kind = SetUpAdmin if model in SET_UP else RecordAdmin
    assert isinstance(admin.site.get_model_admin(model), kind)


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
def test_every_table_opens_with_its_rows(server_room: Client, model) -> None:
    cellar = Cellar()
    cellar.released()
    assert server_room.get(address(model, "changelist")).status_code == 200
    if (row := model.objects.first()) is not None:
        assert server_room.get(address(model, "change", row.pk)).status_code == 200


@pytest.mark.parametrize(
    "model", [m for m in MODELS if m not in SET_UP], ids=lambda model: model.__name__
)
def test_what_happened_is_neither_added_nor_changed_nor_deleted(server_room: Client, model) -> None:
    cellar = Cellar()
    cellar.filled(cellar.released())
    assert server_room.get(address(model, "add")).status_code == 403
    row = model.objects.first()
    if row is None:
        return
    before = list(model.objects.values())
    assert server_room.post(address(model, "change", row.pk), {"note": "x"}).status_code == 403
    assert server_room.post(address(model, "delete", row.pk), {"post": "yes"}).status_code == 403
    assert list(model.objects.values()) == before


def test_added_row_leaves_an_entry(server_room: Client, root: User) -> None:
    server_room.post(
        address(house.Beer, "add"),
        {"name": "Skellavine Gose", "allergen": "coriander", "active": "on"},
    )
    beer = house.Beer.objects.get()
    entry = Entry.objects.get()
    assert (entry.verb, entry.user, entry.subject_type, entry.subject_id) == (
        "admin change",
        root,
        "beer",
        beer.pk,
    )
    assert entry.values == {
        "did": "add",
        "before": {"name": None, "allergen": None},
        "after": {"name": "Skellavine Gose", "allergen": "coriander"},
    }


def test_edited_row_leaves_what_changed(server_room: Client) -> None:
    vessel = make_vessel(points=0, name="FV 1", volume_hl=20)
    form = server_room.get(address(house.Vessel, "change", vessel.pk)).context["adminform"].form
    given = {name: "" if value is None else value for name, value in form.initial.items()}
    server_room.post(
        address(house.Vessel, "change", vessel.pk),
        {
            **given,
            "volume_hl": "25",
            "out_of_service_since_0": "",
            "out_of_service_since_1": "",
        },
    )
    vessel.refresh_from_db()
    assert vessel.volume_hl == 25
    assert Entry.objects.get().values == {
        "did": "edit",
        "before": {"volume_hl": 20.0},
        "after": {"volume_hl": 25.0},
    }


def test_deleted_rows_leave_an_entry_each(server_room: Client) -> None:
    beers = [make_beer(name="One"), make_beer(name="Two")]
    server_room.post(
        address(house.Beer, "changelist"),
        {
            "action": "delete_selected",
            "_selected_action": [beer.pk for beer in beers],
            "post": "yes",
        },
    )
    assert house.Beer.objects.count() == 0
    assert sorted(Entry.objects.values_list("subject_label", "subject_id")) == [
        ("One", beers[0].pk),
        ("Two", beers[1].pk),
    ]
    assert check_chain() is None


def test_row_with_a_history_is_not_deleted(server_room: Client) -> None:
    cellar = Cellar()
    cellar.emptied()
    entries = Entry.objects.count()
    server_room.post(address(house.Vessel, "delete", cellar.vessel.pk), {"post": "yes"})
    assert house.Vessel.objects.filter(pk=cellar.vessel.pk).exists()
    assert Entry.objects.count() == entries


def test_refused_form_leaves_no_entry(server_room: Client) -> None:
    make_beer(name="Skellavine Gose")
    server_room.post(address(house.Beer, "add"), {"name": "Skellavine Gose"})
    assert Entry.objects.count() == 0


def test_new_user_s_password_is_not_in_the_ledger(server_room: Client) -> None:
    server_room.post(
        address(house.User, "add"),
        {
            "username": "priya",
            "full_name": "Priya Lindqvist",
            "initials": "PL",
            "usable_password": "true",
            "password1": "sample-valve",
            "password2": "sample-valve",
        },
    )
    priya = User.objects.get(username="priya")
    assert (priya.check_password("sample-valve"), priya.password_set_by) == (True, "root")
    values = Entry.objects.get().values
    assert "sample-valve" not in json.dumps(values)
    assert values["after"] == {}
    assert {"password1", "username", "full_name", "initials"} <= set(values["not shown"])


def test_roles_given_there_are_in_the_ledger_and_count_at_once(server_room: Client) -> None:
    hand = make_cellar_hand(username="jonas", full_name="Jonas Feld", initials="JF")
    brewer_role = Group.objects.get(name="head brewer")
    server_room.post(
        address(house.User, "change", hand.pk),
        {
            "username": "jonas",
            "full_name": "Jonas Feld",
            "initials": "JF",
            "is_active": "on",
            "groups": [brewer_role.pk],
        },
    )
    assert actions.roles_of(User.objects.get(pk=hand.pk)) == ["head brewer"]
    assert Entry.objects.get().values == {
        "did": "edit",
        "before": {"groups": ["cellar"]},
        "after": {"groups": ["head brewer"]},
    }


def test_password_given_there_takes_the_pin_and_leaves_an_entry(server_room: Client) -> None:
    hand = make_cellar_hand()
    actions.set_own_pin(by=acting(hand), new_pin="5093", password=PASSWORD)
    server_room.post(
        reverse("admin:auth_user_password_change", args=[hand.pk]),
        {"password1": "wet-gloves-77", "password2": "wet-gloves-77", "usable_password": "true"},
    )
    hand.refresh_from_db()
    assert (hand.check_password("wet-gloves-77"), hand.pin_hash) == (True, "")
    assert hand.password_set_by == "root"
    entry = Entry.objects.last()
    assert (entry.verb, entry.values) == (
        "admin change",
        {"did": "edit", "password": "given anew", "pin": "taken"},
    )


def test_own_password_changed_there_is_one_s_own(server_room: Client, root: User) -> None:
    server_room.post(
        reverse("admin:auth_user_password_change", args=[root.pk]),
        {"password1": "wet-gloves-77", "password2": "wet-gloves-77", "usable_password": "true"},
    )
    root.refresh_from_db()
    assert (root.check_password("wet-gloves-77"), root.password_set_by) == (True, "")


def test_nobody_gives_themselves_a_role_there(server_room: Client, root: User) -> None:
    form = server_room.get(address(house.User, "change", root.pk)).context["adminform"].form
    assert "groups" not in form.fields
    server_room.post(
        address(house.User, "change", root.pk),
        {
            "username": "root",
            "full_name": "Root",
            "initials": "RT",
            "is_active": "on",
            "is_staff": "on",
            "is_superuser": "on",
            "groups": [Group.objects.get(name="head brewer").pk],
        },
    )
    root.refresh_from_db()
    assert (root.full_name, actions.roles_of(root)) == ("Root", [])


def test_nobody_is_deleted(server_room: Client) -> None:
    hand = make_cellar_hand()
    assert server_room.post(address(house.User, "delete", hand.pk)).status_code == 403


def test_there_is_one_brewery(server_room: Client) -> None:
    Cellar()
    assert server_room.get(address(house.Brewery, "add")).status_code == 403
    assert server_room.post(address(house.Brewery, "delete", 1)).status_code == 403


@pytest.mark.parametrize(
    "model",
    [house.HoldClock, house.SamplingPoint, house.LimitSet, house.Regime, house.RegimeVersion],
    ids=lambda model: model.__name__,
)
def test_rules_are_read_there_and_nothing_more(model) -> None:
    """Tried for each table by test_what_happened_is_neither_added_nor_changed_nor_deleted."""
    assert model not in SET_UP


def test_release_rules_are_not_changed_there(server_room: Client) -> None:
    brewery = make_brewery(name="Before", self_release_allowed=True)
    rules = (brewery.self_release_allowed, brewery.waivable_gates)
    assert rules == (True, ["nothing_over_action", "regime_strength"])
    form = server_room.get(address(house.Brewery, "change", brewery.pk)).context["adminform"].form
    given = {name: "" if value is None else value for name, value in form.initial.items()}
    server_room.post(
        address(house.Brewery, "change", brewery.pk),
        {**given, "name": "After", "self_release_allowed": "", "waivable_gates": '["alerts"]'},
    )
    brewery.refresh_from_db()
    assert brewery.name == "After"
    assert (brewery.self_release_allowed, brewery.waivable_gates) == rules
    assert Entry.objects.get().values["after"] == {"name": "After"}


def test_what_a_vessel_s_release_follows_from_is_not_changed_there(server_room: Client) -> None:
    vessel = make_vessel(points=0)
    form = server_room.get(address(house.Vessel, "change", vessel.pk)).context["adminform"].form
    assert {"kind", "least_level"}.isdisjoint(form.fields)
    assert {"name", "volume_hl"} <= set(form.fields)


def test_photos_are_not_taken_there(server_room: Client) -> None:
    form = server_room.get(address(house.Vessel, "add")).context["adminform"].form
    assert "photo" not in form.fields


@pytest.mark.parametrize("make", [make_cellar_hand, make_head_brewer])
def test_no_role_opens_the_admin_site(client: Client, make) -> None:
    client.force_login(make())
    response = client.get("/admin/")
    assert (response.status_code, response["Location"]) == (302, "/admin/login/?next=/admin/")


def test_stranger_is_sent_to_its_sign_in() -> None:
    assert Client().get("/admin/")["Location"] == "/admin/login/?next=/admin/"


# Session, user, brewery, permissions, rows and their counts; an entry list has its dates too.
QUERIES = {"result": 8, "samplingpoint": 8, "clean": 8, "entry": 11, "stepreading": 8}


@pytest.mark.parametrize("cellars", [1, 2])
@pytest.mark.parametrize("name", QUERIES)
def test_list_costs_the_same_for_few_rows_and_for_more(
    server_room: Client, cellars: int, name: str, django_assert_num_queries
) -> None:
    cellar = Cellar()
    cellar.released()
    if cellars == 2:
        cellar.released(vessel=make_vessel())
    with django_assert_num_queries(QUERIES[name]):
        server_room.get(reverse(f"admin:brewhygiene_{name}_changelist"))

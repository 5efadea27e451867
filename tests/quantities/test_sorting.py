"""Names stand in the order in which people count, in every list and on every database."""

import re
from datetime import date
from pathlib import Path

import pytest
from django.apps import apps
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from brewhygiene.cellar.models import Beer, Vessel
from brewhygiene.quantities.sorting import SortKeyField, natural_key
from tests.factories import (
    Cellar,
    make_atp_test,
    make_beer,
    make_meter,
    make_test_lot,
    make_vessel,
)

ROOMS = Path(__file__).parents[2] / "brewhygiene"
SORTED_BY = re.compile(r"order_by\([^()]*(?:\([^()]*\)[^()]*)*\)|ordering = \[[^\]]*\]", re.DOTALL)
BY_NAME = re.compile(r'"-?(?:\w+__)?(?:name|lot)"')


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("FV 2", "FV 10"),
        ("fv 2", "FV 10"),
        ("FV2", "FV 10"),
        ("FV 09", "FV 10"),
        ("FV 9", "FV 1000000"),
        ("BT 10", "FV 2"),
        ("FV 2 a", "FV 2 b"),
        ("FV 2", "FV 2 a"),
        ("Lot 2-10", "Lot 10-2"),
        ("Ägir 2", "Ägir 10"),
        ("Agir", "Ägir 1"),
    ],
)
def test_numbers_count_as_numbers(before: str, after: str) -> None:
    assert natural_key(before) < natural_key(after)


@given(st.text(max_size=60))
def test_key_is_of_letters_that_every_collation_orders_alike(name: str) -> None:
    assert re.fullmatch("[0-9a-f]*", natural_key(name))


@given(st.integers(0, 10**10 - 1), st.integers(0, 10**10 - 1))
def test_any_two_numbers_stand_in_their_order(one: int, other: int) -> None:
    keys = natural_key(f"FV {one}"), natural_key(f"FV {other}")
    assert (keys[0] < keys[1]) == (one < other)


def test_nothing_is_sorted_by_a_bare_name() -> None:
    """A name that two people may count has a sort key; people have none, they are no numbers."""
    left = [
        (path.relative_to(ROOMS).as_posix(), found)
        for path in ROOMS.rglob("*.py")
        if "migrations" not in path.parts
        for found in SORTED_BY.findall(path.read_text("utf-8"))
        if BY_NAME.search(found)
    ]
    assert left == []
    assert BY_NAME.search('order_by("-active", "name")')
    assert SORTED_BY.search('order_by("vessel__order", F("x").asc(), "vessel__name")')


def test_every_name_of_a_thing_has_its_key() -> None:
    keyed = {
        f"{model.__name__}.{field.source}"
        for model in apps.get_app_config("brewhygiene").get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, SortKeyField)
    }
    assert keyed == {
        "Agent.name",
        "AtpTest.name",
        "AtpTestLot.lot",
        "Beer.name",
        "Customer.name",
        "LoggerMapping.name",
        "Meter.name",
        "Regime.name",
        "Skid.name",
        "SolutionTank.name",
        "Vessel.name",
    }
    for model in apps.get_app_config("brewhygiene").get_models():
        for field in model._meta.concrete_fields:
            assert not isinstance(field, SortKeyField) or field.db_index


@pytest.mark.django_db
class TestWritten:
    """However a name is written, its key is written with it."""

    def test_by_save(self) -> None:
        vessel = make_vessel(name="FV 2")
        assert vessel.sort_key == natural_key("FV 2")
        vessel.name = "FV 10"
        vessel.save()
        assert Vessel.objects.get().sort_key == natural_key("FV 10")

    def test_by_save_of_the_name_alone(self) -> None:
        vessel = make_vessel(name="FV 2")
        vessel.name = "FV 10"
        vessel.save(update_fields=["name"])
        assert Vessel.objects.get().sort_key == natural_key("FV 10")

    def test_by_update(self) -> None:
        make_vessel(name="FV 2")
        Vessel.objects.update(name="FV 10")
        assert Vessel.objects.get().sort_key == natural_key("FV 10")

    def test_by_bulk(self) -> None:
        Beer.objects.bulk_create([Beer(name="Batch 2"), Beer(name="Batch 10")])
        assert [beer.name for beer in Beer.objects.all()] == ["Batch 2", "Batch 10"]

    def test_of_a_lot(self) -> None:
        test, day = make_atp_test(), date(2026, 12, 31)
        for lot in ("L 10", "L 2"):
            make_test_lot(test, lot=lot, expires_on=day)
        assert [lot.lot for lot in test.lots.all()] == ["L 2", "L 10"]


def names_in(text: str, *names: str) -> list[str]:
    """These names in the order in which a page says each of them first."""
    return sorted(names, key=lambda name: re.search(rf"{name}(?!\d)", text).start())  # type: ignore[union-attr]


@pytest.mark.django_db
@pytest.mark.parametrize(
    "address",
    [
        "/",
        "/?wall",
        "/set-up/vessels/",
        "/set-up/vessels-as-they-stand/",
        "/bench/tank-gas/",
        "/set-up/",
        "/set-up/limits/propose/",
        "/set-up/limits/baselines/add/",
    ],
)
def test_two_stands_before_ten_on_every_page_that_lists_vessels(
    client: Client, address: str
) -> None:
    cellar = Cellar()
    client.force_login(cellar.brewer)
    for number in (10, 2):
        make_vessel(name=f"FV {number}")
    page = client.get(address)
    assert page.status_code == 200
    text = page.content.decode()
    assert "FV 10" in text
    assert names_in(text, "FV 10", "FV 2") == ["FV 2", "FV 10"]


@pytest.mark.django_db
def test_two_stands_before_ten_in_every_list_of_the_set_up(client: Client) -> None:
    cellar = Cellar()
    client.force_login(cellar.brewer)
    for number in (10, 2):
        make_beer(name=f"Saison {number}")
        make_meter(name=f"Lumen {number}")
        make_atp_test(name=f"Swab {number}")
    for address, word in (
        ("/set-up/beers/", "Saison"),
        ("/set-up/meters/", "Lumen"),
        ("/set-up/atp-tests/", "Swab"),
    ):
        page = client.get(address)
        assert page.status_code == 200, address
        text = page.content.decode()
        assert names_in(text, f"{word} 10", f"{word} 2") == [f"{word} 2", f"{word} 10"], address

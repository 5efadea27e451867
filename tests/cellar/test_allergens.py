"""The closed list of allergens, what an older text says of it, and beers that declare them."""

import pytest
from django.test import Client

from brewhygiene.cellar.allergens import GLUTEN, Allergen, allergens_in, in_order, words_of
from brewhygiene.cellar.beers import actions
from brewhygiene.cellar.models import Beer
from brewhygiene.ledger.models import Entry
from brewhygiene.people.models import Signature, User
from brewhygiene.refusals import Refusal
from tests.factories import PASSWORD, acting, make_beer

# Regulation (EU) No 1169/2011, Annex II, from memory: 14 groups, its first by cereal.
ANNEX_II = {
    "gluten": {"barley", "wheat", "rye", "oats"},
    "crustaceans": {"crustaceans"},
    "eggs": {"eggs"},
    "fish": {"fish"},
    "peanuts": {"peanuts"},
    "soybeans": {"soybeans"},
    "milk": {"milk"},
    "nuts": {"nuts"},
    "celery": {"celery"},
    "mustard": {"mustard"},
    "sesame": {"sesame"},
    "sulphites": {"sulphites"},
    "lupin": {"lupin"},
    "molluscs": {"molluscs"},
}


def test_list_is_that_of_annex_ii() -> None:
    assert len(ANNEX_II) == 14
    assert set(Allergen.values) == set().union(*ANNEX_II.values())
    assert set(GLUTEN) == ANNEX_II["gluten"]


@pytest.mark.parametrize(
    "text, codes",
    [
        ("", []),
        ("coriander", []),
        ("lactose", ["milk"]),
        ("Lactose, oats and gluten", ["barley", "wheat", "rye", "oats", "milk"]),
        ("milk and oats", ["oats", "milk"]),
        ("NUTS", ["nuts"]),
        ("almonds/hazelnuts", ["nuts"]),
        ("peanuts", ["peanuts"]),
        ("coconut", []),
        ("wheat; rye", ["wheat", "rye"]),
        ("spelt", ["wheat"]),
        ("sulfites", ["sulphites"]),
        ("oysters", ["molluscs"]),
        ("soya", ["soybeans"]),
    ],
)
def test_older_text_says_what_it_says(text: str, codes: list[str]) -> None:
    assert allergens_in(text) == codes


@pytest.mark.parametrize("allergen", Allergen)
def test_every_code_is_found_in_its_own_word(allergen: Allergen) -> None:
    assert allergen.value in allergens_in(allergen.value)


def test_code_outside_the_list_is_none() -> None:
    with pytest.raises(ValueError, match="coriander"):
        in_order(["milk", "coriander"])


def test_one_is_named_alone_and_several_in_order() -> None:
    assert [words_of(["milk"]), words_of(["nuts", "milk"])] == ["milk", "milk and nuts"]


@pytest.mark.django_db
def test_beer_keeps_its_allergens_in_order_and_once(brewer: User) -> None:
    beer = actions.add_beer(
        by=acting(brewer), name="Custard", allergens=["nuts", "milk", "nuts"], allergen="from whey"
    )
    assert Beer.objects.get().allergens == ["milk", "nuts"]
    assert beer.allergen_words == "milk and nuts, from whey"
    assert Entry.objects.get().values["allergens"] == ["milk", "nuts"]


@pytest.mark.django_db
def test_beer_takes_nothing_outside_the_list(brewer: User) -> None:
    with pytest.raises(Refusal) as refused:
        actions.add_beer(by=acting(brewer), name="Gose", allergens=["coriander"])
    assert refused.value.field == "allergens"


@pytest.mark.django_db
@pytest.mark.parametrize("after", [[], ["milk", "nuts"]])
def test_allergens_change_with_the_password(brewer: User, after: list[str]) -> None:
    beer = make_beer(name="Custard", allergens=["milk"])
    with pytest.raises(Refusal) as refused:
        actions.edit_beer(by=acting(brewer), beer=beer, name="Custard", allergens=after)
    assert refused.value.field == "password"
    actions.edit_beer(
        by=acting(brewer), beer=beer, name="Custard", allergens=after, password=PASSWORD
    )
    beer.refresh_from_db()
    assert beer.allergens == after
    assert Signature.objects.get().meaning == "Changed what Custard asks of cleans"


@pytest.mark.django_db
@pytest.mark.parametrize("rule", ["sour_or_mixed", "diastatic", "strict_before"])
@pytest.mark.parametrize("before", [True, False])
def test_what_decides_how_strong_a_clean_is_takes_it_too(
    brewer: User, rule: str, before: bool
) -> None:
    beer = make_beer(name="Custard", **{rule: before})
    with pytest.raises(Refusal) as refused:
        actions.edit_beer(by=acting(brewer), beer=beer, name="Custard", **{rule: not before})
    assert refused.value.field == "password"
    by = acting(brewer)
    actions.edit_beer(by=by, beer=beer, name="Custard", **{rule: not before}, password=PASSWORD)
    beer.refresh_from_db()
    assert getattr(beer, rule) is not before


@pytest.mark.django_db
def test_other_values_change_without_it(brewer: User) -> None:
    beer = make_beer(name="Custard", allergens=["milk"])
    actions.edit_beer(
        by=acting(brewer), beer=beer, name="Custard", allergens=["milk"], allergen="whey"
    )
    assert not Signature.objects.exists()


@pytest.mark.django_db
def test_pages_take_and_show_them(desk: Client) -> None:
    desk.post("/set-up/beers/add/", {"name": "Custard", "allergens": ["nuts", "milk"]})
    beer = Beer.objects.get()
    assert beer.allergens == ["milk", "nuts"]
    assert "<td>milk and nuts</td>" in desk.get("/set-up/beers/").content.decode()
    address = f"/set-up/beers/{beer.pk}/"
    sent = {"name": "Custard", "allergens": ["milk"], "active": "on"}
    refused = desk.post(address, sent)
    assert refused.status_code == 422
    assert refused.context["form"].errors["password"]
    assert refused.context["form"]["allergens"].value() == ["milk"]
    desk.post(address, {**sent, "password": PASSWORD})
    beer.refresh_from_db()
    assert beer.allergens == ["milk"]

"""The pages of changeovers: the list, signing, retiring, the test after a clean."""

from typing import Any

import pytest
from django.http import HttpResponse
from django.urls import reverse

from brewhygiene.cellar.models import Beer
from brewhygiene.changeovers.models import AllergenTest, Validation
from brewhygiene.turnarounds.actions import plan_next_beer
from brewhygiene.turnarounds.models import Turnaround
from tests.board.scenes import HOUR, Now
from tests.factories import PASSWORD, acting, make_beer
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db
LIST = "/set-up/changeovers/"
ADD = "/set-up/changeovers/add/"
TEST_QUERIES = 12
LIST_QUERIES = 5


@pytest.fixture
def cellar() -> Now:
    """The beer that was in its vessels has milk."""
    cellar = Now()
    cellar.pale.allergens = ["milk"]
    cellar.pale.save()
    return cellar


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def validation(cellar: Now, **values: Any) -> dict[str, Any]:
    return {
        "version": cellar.version.pk,
        "allergen": "milk",
        "validated_on": "2026-01-05",
        "report": "R 7",
        "tests": "3",
        "password": PASSWORD,
        **values,
    }


def after_stout(cellar: Now) -> Turnaround:
    return cellar.cleaned_ago(HOUR)


def test_validation_is_signed_and_listed(cellar: Now) -> None:
    client = signed_in(cellar.brewer)
    assert "No validated changeover yet" in text_of(client.get(LIST))
    response = client.post(ADD, validation(cellar), follow=True)
    html = text_of(response)
    assert response.redirect_chain == [(LIST, 302)]
    assert f"{cellar.version} against milk, lactose included is validated." in html
    assert "R 7, 5 Jan 2026" in html
    assert "Mara Oduya" in html
    assert reverse("changeovers:retire", args=[Validation.objects.get().pk]) in html


@pytest.mark.parametrize(
    "wrong, field",
    [
        ({"version": ""}, "version"),
        ({"version": "999"}, "version"),
        ({"allergen": "coriander"}, "allergen"),
        ({"validated_on": "31.02.2026"}, "validated_on"),
        ({"validated_on": "2099-01-01"}, "validated_on"),
        ({"report": ""}, "report"),
        ({"tests": "2"}, "tests"),
        ({"tests": "-3"}, "tests"),
        ({"password": ""}, "password"),
        ({"password": "guessed"}, "password"),
    ],
)
def test_refusal_stands_beside_its_field_and_nothing_typed_is_lost(
    cellar: Now, wrong: dict[str, Any], field: str
) -> None:
    response = signed_in(cellar.brewer).post(ADD, validation(cellar, **wrong))
    assert response.status_code == 422
    form = response.context["form"]
    assert list(form.errors) == [field]
    assert form["report"].value() == wrong.get("report", "R 7")
    assert not Validation.objects.exists()


def test_cellar_hand_reads_the_list_and_signs_nothing(cellar: Now) -> None:
    signed_in(cellar.brewer).post(ADD, validation(cellar))
    client = signed_in(cellar.hand)
    html = text_of(client.get(LIST))
    assert "R 7" in html
    assert ADD not in html
    retire = reverse("changeovers:retire", args=[Validation.objects.get().pk])
    assert retire not in html
    for address in (ADD, retire):
        assert client.get(address).status_code == 403
        assert client.post(address, validation(cellar)).status_code == 403


def test_retired_validation_says_by_whom_and_why(cellar: Now) -> None:
    client = signed_in(cellar.brewer)
    client.post(ADD, validation(cellar))
    address = reverse("changeovers:retire", args=[Validation.objects.get().pk])
    refused = client.post(address, {"reason": "", "password": PASSWORD})
    assert (refused.status_code, list(refused.context["form"].errors)) == (422, ["reason"])
    client.post(address, {"reason": "Positive on 3 March", "password": PASSWORD})
    html = text_of(client.get(LIST))
    assert "Positive on 3 March" in html
    assert address not in html


def allergen_test(cellar: Now, **values: Any) -> dict[str, Any]:
    return {
        "allergen": "milk",
        "kind": "strip",
        "lot": "A1",
        "expires_on": "2099-01-31",
        "result": "negative",
        "taken_at": "",
        "note": "",
        **values,
    }


def test_test_is_recorded_on_the_floor(cellar: Now) -> None:
    turnaround = after_stout(cellar)
    client = signed_in(cellar.hand)
    address = reverse("changeovers:test", args=[turnaround.pk])
    html = text_of(client.get(reverse("board:turnaround", args=[turnaround.pk])))
    assert address in html
    page = client.get(address)
    assert page.context["form"]["allergen"].value() == "milk"
    assert "The next beer is not known, so its filling asks" in text_of(page)
    taken = page.context["form"]["taken_at"].value()
    response = client.post(address, allergen_test(cellar, taken_at=f"{taken:%Y-%m-%dT%H:%M}"))
    assert response.status_code == 302
    assert AllergenTest.objects.get().recorded_by == cellar.hand
    assert "strip test, read here, lot A1" in text_of(client.get(address))


def test_positive_test_says_what_to_do(cellar: Now) -> None:
    turnaround = after_stout(cellar)
    client = signed_in(cellar.hand)
    address = reverse("changeovers:test", args=[turnaround.pk])
    taken = client.get(address).context["form"]["taken_at"].value()
    response = client.post(
        address,
        allergen_test(cellar, result="positive", taken_at=f"{taken:%Y-%m-%dT%H:%M}"),
        follow=True,
    )
    assert "The vessel needs a re-clean, and a test after it." in text_of(response)


@pytest.mark.parametrize(
    "wrong, field",
    [
        ({"allergen": ""}, "allergen"),
        ({"kind": "atp"}, "kind"),
        ({"lot": ""}, "lot"),
        ({"expires_on": "2020-01-01"}, "expires_on"),
        ({"result": ""}, "result"),
    ],
)
def test_test_is_refused_beside_its_field(cellar: Now, wrong: dict[str, Any], field: str) -> None:
    turnaround = after_stout(cellar)
    client = signed_in(cellar.hand)
    address = reverse("changeovers:test", args=[turnaround.pk])
    taken = client.get(address).context["form"]["taken_at"].value()
    sent = allergen_test(cellar, taken_at=f"{taken:%Y-%m-%dT%H:%M}")
    response = client.post(address, {**sent, "note": "Arm", **wrong})
    assert (response.status_code, list(response.context["form"].errors)) == (422, [field])
    assert response.context["form"]["note"].value() == "Arm"
    assert not AllergenTest.objects.exists()


def test_decision_that_it_blocks_leads_to_the_test(cellar: Now) -> None:
    turnaround = after_stout(cellar)
    plan_next_beer(by=acting(cellar.hand), turnaround=turnaround, beer=make_beer())
    html = text_of(signed_in(cellar.brewer).get(reverse("release:decide", args=[turnaround.pk])))
    assert "No allergen crosses into the next beer" in html
    assert reverse("changeovers:test", args=[turnaround.pk]) in html
    assert "This check can never be waived." in html
    page = signed_in(cellar.hand).get(reverse("changeovers:test", args=[turnaround.pk]))
    assert "The next beer does not declare it" in text_of(page)


def test_turnaround_that_carries_nothing_offers_no_test(cellar: Now) -> None:
    Beer.objects.update(allergens=[])
    turnaround = cellar.cleaned_ago(HOUR)
    html = text_of(signed_in(cellar.hand).get(reverse("board:turnaround", args=[turnaround.pk])))
    assert reverse("changeovers:test", args=[turnaround.pk]) not in html


def test_filling_is_refused_beside_the_beer(cellar: Now) -> None:
    turnaround = cellar.released_ago()
    response = signed_in(cellar.hand).post(
        reverse("release:fill", args=[turnaround.pk]),
        {"beer": make_beer().pk, "batch": "P-12", "volume_hl": "25"},
    )
    assert (response.status_code, list(response.context["form"].errors)) == (422, ["beer"])
    assert response.context["form"]["batch"].value() == "P-12"


@pytest.mark.parametrize("number", [1, 3])
def test_pages_take_the_same_queries_for_one_and_for_three(
    cellar: Now, number: int, django_assert_num_queries: Any
) -> None:
    turnaround = after_stout(cellar)
    client, brewer = signed_in(cellar.hand), signed_in(cellar.brewer)
    address = reverse("changeovers:test", args=[turnaround.pk])
    taken = client.get(address).context["form"]["taken_at"].value()
    for allergen in ("milk", "nuts", "fish")[:number]:
        brewer.post(ADD, validation(cellar, allergen=allergen))
        sent = allergen_test(cellar, allergen=allergen, taken_at=f"{taken:%Y-%m-%dT%H:%M}")
        client.post(address, sent)
    assert Validation.objects.count() == AllergenTest.objects.count() == number
    client.get(address)
    with django_assert_num_queries(TEST_QUERIES):
        client.get(address)
    with django_assert_num_queries(LIST_QUERIES):
        client.get(LIST)

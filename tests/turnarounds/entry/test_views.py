"""The screens of an entry permit."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from brewhygiene.turnarounds.models.entries import EntryPermit
from tests.factories import PASSWORD, Cellar
from tests.turnarounds.entry.test_actions import GIVEN, permitted
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


@pytest.fixture
def brewer(cellar: Cellar) -> Client:
    return signed_in(cellar.brewer)


TYPED = {**{name: str(value) for name, value in GIVEN.items()}, "password": PASSWORD}


def test_permit_is_given_and_its_page_says_who_is_inside(cellar: Cellar, brewer: Client) -> None:
    turnaround = cellar.emptied()
    address = reverse("turnarounds:permit", args=[turnaround.pk])
    shown = brewer.get(address).content.decode()
    assert "Nobody enters without a trained team" in shown
    assert "do not replace the safety data sheet" in shown
    answer = brewer.post(address, TYPED, follow=True)
    permit = EntryPermit.objects.get()
    assert answer.redirect_chain == [(reverse("turnarounds:entry", args=[permit.pk]), 302)]
    text = answer.content.decode()
    assert "Somebody may be inside" in text
    assert "Ilja Test" in text
    assert "oxygen 20.8 %" in text
    assert brewer.get(address).status_code == 302


def test_unsafe_air_comes_back_beside_its_field_with_what_was_typed(
    cellar: Cellar, brewer: Client
) -> None:
    address = reverse("turnarounds:permit", args=[cellar.emptied().pk])
    answer = brewer.post(address, {**TYPED, "oxygen_pct": "17,5"})
    assert answer.status_code == 422
    ((field, (message,)),) = answer.context["form"].errors.items()
    assert field == "oxygen_pct"
    assert message.startswith("Oxygen reads 17.5 %. Below 19.5 % people faint without warning.")
    assert 'value="17,5"' in answer.content.decode()
    assert "Inlet blanked. Agitator locked" in answer.content.decode()


def test_hand_cannot_permit_entry_but_closes_it_out(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    hand = signed_in(cellar.hand)
    assert hand.get(reverse("turnarounds:permit", args=[turnaround.pk])).status_code == 403
    address = reverse("turnarounds:entry", args=[permitted(cellar, turnaround).pk])
    refused = hand.post(address, {"everyone_out": "on", "note": "Done"})
    assert refused.status_code == 422
    assert list(refused.context["form"].errors) == ["nothing_left"]
    done: dict[str, Any] = {"everyone_out": "on", "nothing_left": "on", "note": "Done"}
    answer = hand.post(address, done, follow=True)
    assert "Closed out" in answer.content.decode()
    assert answer.context["form"] is None

"""Entry permits on a turnaround's page and in its record."""

import pytest
from django.urls import reverse

from brewhygiene.reports.record.pdf import record_html
from brewhygiene.turnarounds.entry.actions import close_permit
from tests import clock
from tests.factories import Cellar, acting
from tests.reports.pdf.text import words_of
from tests.turnarounds.entry.test_actions import permitted
from tests.turnarounds.floor import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def cellar() -> Cellar:
    return Cellar()


def test_turnaround_tells_who_was_permitted_to_enter_and_that_it_was_closed(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    brewer = signed_in(cellar.brewer)
    address = reverse("board:turnaround", args=[turnaround.pk])
    assert "Entry permit</a>" in brewer.get(address).content.decode()
    assert "Entry permit</a>" not in signed_in(cellar.hand).get(address).content.decode()
    permit = permitted(cellar, turnaround)
    open_page = brewer.get(address).content.decode()
    assert "Entry permitted" in open_page
    assert "Close entry permit" in open_page
    assert "Weld at the cone. Inside: Ilja Test. Outside: Runa Test" in open_page
    close_permit(
        by=acting(cellar.hand), permit=permit, everyone_out=True, nothing_left=True, note="Welded"
    )
    closed = brewer.get(address).content.decode()
    assert "Entry permit closed" in closed
    assert "Welded" in closed


def test_hand_is_led_from_the_board_to_the_open_permit(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    permit = permitted(cellar, turnaround)
    hand = signed_in(cellar.hand)
    card = hand.get(reverse("board:turnaround", args=[turnaround.pk])).context["card"]
    assert card.next.url == reverse("turnarounds:permit", args=[turnaround.pk])
    answer = hand.get(card.next.url)
    assert (answer.status_code, answer["Location"]) == (
        302,
        reverse("turnarounds:entry", args=[permit.pk]),
    )


def test_record_prints_the_permit_whether_closed_out_or_not(cellar: Cellar) -> None:
    turnaround = cellar.emptied()
    permit = permitted(cellar, turnaround)
    words = words_of(record_html(turnaround, now=clock.now()))
    assert "Inside: Ilja Test. Outside: Runa Test." in words
    assert "oxygen 20.8 %, CO2 0.1 %, flammable 0 %." in words
    assert "Not closed out." in words
    close_permit(
        by=acting(cellar.hand), permit=permit, everyone_out=True, nothing_left=True, note="Welded"
    )
    words = words_of(record_html(turnaround, now=clock.now()))
    assert "Not closed out." not in words
    assert ": Welded" in words

"""Changing hands at a tablet: two taps and a PIN, back on the page with what was typed."""

import re
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.board.handovers.actions import hand_over
from brewhygiene.people.actions import set_own_pin
from brewhygiene.people.models import User
from tests import clock
from tests.board.scenes import HOUR, Now
from tests.factories import PASSWORD, acting, make_cellar_hand

pytestmark = pytest.mark.django_db(transaction=True)
PIN = "5093"
NOTE = "Hose 2 lies out, the gasket of FV 1 weeps."


@pytest.fixture
def cellar() -> Now:
    cellar = Now()
    cellar.to_decide()
    for person in (cellar.hand, cellar.brewer):
        set_own_pin(by=acting(person), new_pin=PIN, password=PASSWORD)
    return cellar


def enrolled(page: Page, brewer: User, *, then: str) -> None:
    """Enrol the tablet as a head brewer does, and go to a page with a form."""
    page.goto("/sign-in/")
    page.get_by_label("Sign-in name").fill(brewer.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.goto(reverse("people:tablets"))
    page.get_by_label("Name of the tablet").fill("Cellar 1")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Enrol this tablet").click()
    expect(page.get_by_text("This tablet is enrolled as Cellar 1.")).to_be_visible()
    page.goto(then)


def take_over(page: Page, person: User) -> None:
    page.get_by_role("link", name=person.display_name).click()
    page.get_by_label("PIN").fill(PIN)
    page.get_by_role("button", name="Sign in with PIN").click()


def test_two_taps_and_a_pin_bring_back_the_page_and_what_was_typed(
    page: Page, cellar: Now, assert_page_is_sound: Any
) -> None:
    enrolled(page, cellar.brewer, then="/handover/")
    assert_page_is_sound(page, floor=True)
    page.get_by_label("Note for the next shift").fill(NOTE)
    page.get_by_title("Change person").click()
    take_over(page, cellar.hand)
    expect(page).to_have_url(re.compile("/handover/$"))
    expect(page.get_by_title("Change person")).to_contain_text(cellar.hand.short_name)
    expect(page.get_by_label("Note for the next shift")).to_have_value(NOTE)
    page.reload()
    expect(page.get_by_label("Note for the next shift")).to_have_value("")


def rests(page: Page) -> None:
    expect(page.locator("body[data-rest-s='900']")).to_have_count(1)
    page.clock.fast_forward(15 * 60 * 1000 + 5000)
    expect(page.get_by_role("heading", level=1)).to_have_text("Change person")


def test_tablet_at_rest_signs_out_and_keeps_the_form_for_its_owner(page: Page, cellar: Now) -> None:
    enrolled(page, cellar.brewer, then="/handover/")
    page.get_by_label("Note for the next shift").fill(NOTE)
    page.clock.fast_forward(14 * 60 * 1000)
    expect(page).to_have_url(re.compile("/handover/$"))
    rests(page)
    take_over(page, cellar.brewer)
    expect(page).to_have_url(re.compile("/handover/$"))
    expect(page.get_by_label("Note for the next shift")).to_have_value(NOTE)


def test_what_one_left_behind_is_not_shown_to_another(page: Page, cellar: Now) -> None:
    enrolled(page, cellar.brewer, then="/handover/")
    page.get_by_label("Note for the next shift").fill(NOTE)
    rests(page)
    take_over(page, cellar.hand)
    expect(page).to_have_url(re.compile("/handover/$"))
    expect(page.get_by_label("Note for the next shift")).to_have_value("")


def test_no_password_and_no_pin_is_ever_kept(page: Page, cellar: Now) -> None:
    enrolled(page, cellar.brewer, then=reverse("people:pin"))
    page.get_by_label("New PIN", exact=True).fill("8264")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_title("Change person").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Change person")
    kept = page.evaluate("JSON.stringify(sessionStorage)")
    assert PASSWORD not in kept
    assert "8264" not in kept


def test_next_hand_is_greeted_on_the_board_and_reads_it(
    open_page: Any, assert_page_is_sound: Any, cellar: Now, size: str
) -> None:
    hand_over(by=acting(cellar.hand, now=clock.now() - HOUR), note=NOTE)
    priya = make_cellar_hand(username="priya", full_name="Priya Lindqvist", initials="PL")
    page = open_page(user=priya, size=size)
    page.goto("/")
    assert_page_is_sound(page)
    page.get_by_role("link", name="Read handover").click()
    expect(page.get_by_text(NOTE)).to_be_visible()
    assert_page_is_sound(page, floor=True)
    page.get_by_role("button", name="Mark handover as read").click()
    expect(page.get_by_text("Read. It stays below.")).to_be_visible()
    page.goto("/")
    expect(page.get_by_text("Handover from")).to_have_count(0)

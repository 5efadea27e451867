"""The ledger's pages: a list to look through, one entry, and a code to photograph."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from brewhygiene.ledger.models import Entry
from tests.browser.conftest import Opened
from tests.factories import Cellar


@pytest.fixture
def cellar() -> Cellar:
    made = Cellar()
    made.released()
    return made


def test_ledger_is_sound_and_its_entries_open(
    cellar: Cellar, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    page = open_page(user=cellar.owner, size=size)
    page.goto("/ledger/")
    assert_page_is_sound(page)
    page.get_by_text("Filter", exact=True).click()
    page.get_by_label("Action").select_option("decide")
    page.get_by_role("button", name="Show entries").click()
    # Who has asked sees what for.
    expect(page.get_by_label("Action")).to_have_value("decide")
    number = Entry.objects.get(verb="decide").number
    page.get_by_role("link", name=str(number), exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"Entry {number}")
    assert_page_is_sound(page)


def test_head_is_sound_in_the_dark_and_its_code_stays_light(
    cellar: Cellar, open_page: Opened, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=cellar.owner, size="phone", dark=True)
    page.goto("/ledger/head/")
    assert_page_is_sound(page)
    expect(page.locator("svg.qr path").first).to_have_attribute("fill", "#fff")

"""The comparison of turnarounds in Chromium, and what was found, from the reading to the bar."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from brewhygiene.trends.compare.page import PARTS
from tests import clock
from tests.browser.conftest import Opened
from tests.browser.test_figures import FOCUS_ALL, PATIENCE_MS
from tests.factories import Cellar, make_vessel
from tests.histories import Swab, make_history

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def cellar(live_server: object) -> Cellar:
    """Forty weeks of six vessels, of which one is worse than the others."""
    cellar = Cellar(points=2)
    others = [make_vessel(points=2, name=f"Tank {n}", order=n) for n in range(1, 6)]

    def rlu(swab: Swab) -> int:
        often = 0.35 if swab.turn.vessel.name == "Tank 2" else 0.03
        return 300 if swab.chance.random() < often else 2

    make_history(
        cellar=cellar,
        vessels=[cellar.vessel, *others],
        cleans=40,
        until=clock.now() - timedelta(hours=6),
        rlu=rlu,
        agent_lot=lambda turn: f"P{turn.number // 15}",
        reading=lambda turn, window: (
            20.0 if window.quantity == "concentration" and turn.number % 6 == 0 else None
        ),
        released_by=lambda turn: cellar.hand if turn.number % 17 == 0 else cellar.brewer,
    )
    return cellar


def test_parts_are_sound(
    open_page: Opened, assert_page_is_sound: Callable[..., None], cellar: Cellar, size: str
) -> None:
    page = open_page(user=cellar.owner, size=size)
    for part in PARTS:
        page.goto(f"/trends/compare/?by={part}")
        page.evaluate(FOCUS_ALL)
        expect(page.locator("[data-drawn]")).to_have_count(
            page.locator("figure.figure").count(), timeout=PATIENCE_MS
        )
        assert_page_is_sound(page)


def test_empty_time_and_days_out_of_order_are_sound(
    open_page: Opened, assert_page_is_sound: Callable[..., None], cellar: Cellar, size: str
) -> None:
    page = open_page(user=cellar.owner, size=size)
    page.goto("/trends/compare/?first=2020-01-01&last=2020-02-01")
    expect(page.locator(".lead")).to_contain_text("No vessel was emptied in this period")
    assert_page_is_sound(page)
    open_page.watch(page).allow("422")
    page.get_by_label("From").fill("2026-05-02")
    page.get_by_label("To").fill("2026-05-01")
    page.get_by_role("button", name="Show period").click()
    expect(page.locator(".error")).to_contain_text("after the first day, 2 May 2026")
    expect(page.get_by_label("To")).to_have_value("2026-05-01")
    assert_page_is_sound(page)


def test_from_the_owners_page_to_the_turnaround_behind_it(
    open_page: Opened, assert_page_is_sound: Callable[..., None], cellar: Cellar, size: str
) -> None:
    page = open_page(user=cellar.owner, size=size)
    page.goto("/trends/")
    page.get_by_role("link", name="Compare", exact=True).click()
    first = page.locator(".findings > li").first
    expect(first).to_contain_text("Tank 2")
    expect(first).to_contain_text("the spray device")
    by = page.get_by_role("navigation", name="Compare by")
    by.get_by_role("link", name="Vessels", exact=True).click()
    page.get_by_role("row", name="Tank 2").get_by_role("link").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Tank 2, not clean the first time")
    assert_page_is_sound(page)
    page.locator("tbody th a").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Turnaround of Tank 2")
    expect(page.locator(".page-about")).to_contain_text("Emptied ")


def test_figure_says_a_vessel_by_keys_and_opens_its_rows(open_page: Opened, cellar: Cellar) -> None:
    page = open_page(user=cellar.owner, size="desk")
    page.goto("/trends/compare/?by=vessel&months=12")
    page.locator("#rates .figure-drawing").focus()
    expect(page.locator("[data-drawn]")).to_have_count(1, timeout=PATIENCE_MS)
    page.keyboard.press("Home")
    expect(page.locator("#rates .figure-reading")).to_contain_text("Tank 2")
    page.keyboard.press("Enter")
    page.wait_for_url("**/trends/compare/rows/?by=vessel&of=*")


def test_page_works_without_script(open_page: Opened, cellar: Cellar) -> None:
    page = open_page(user=cellar.owner, size="desk", java_script_enabled=False)
    page.goto("/trends/compare/?by=vessel")
    expect(page.locator("#rates .figure-wide a").first).to_be_visible()
    page.get_by_role("link", name="3 months").click()
    expect(page.locator(".page-about")).to_have_text("The last 3 months")


def test_what_was_found_goes_from_the_reading_to_the_bar(
    open_page: Opened, assert_page_is_sound: Callable[..., None], cellar: Cellar, size: str
) -> None:
    start = clock.now() - timedelta(hours=1)
    turnaround = cellar.cleaned(now=start, vessel=make_vessel(points=1, name="Tank 9"))
    over = cellar.sampled(turnaround, rlu=400, now=start + timedelta(minutes=30))
    page = open_page(user=cellar.hand, size=size)
    page.goto(f"/atp-readings/{over.pk}/")
    page.get_by_role("link", name="Record cause").click()
    assert_page_is_sound(page, floor=True)
    open_page.watch(page).allow("422")
    page.get_by_role("button", name="Record cause").click()
    expect(page.locator(".field .error")).to_contain_text("Choose a cause.")
    assert_page_is_sound(page, floor=True)
    page.get_by_label("gasket or seal").check()
    page.get_by_label("Note").fill("Cut where it seats")
    page.get_by_role("button", name="Record cause").click()
    expect(page.locator(".timeline")).to_contain_text("Cause found: gasket or seal")
    assert_page_is_sound(page)
    owner = open_page(user=cellar.owner, size=size)
    owner.goto("/trends/compare/?by=causes")
    expect(owner.locator("#causes")).to_contain_text("1 in all")

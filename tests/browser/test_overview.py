"""The overview of trends in Chromium: its figures open their rows, and every state is sound."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import expect

from tests import clock
from tests.browser.conftest import Opened
from tests.browser.test_figures import PATIENCE_MS
from tests.factories import Cellar, make_vessel
from tests.histories import Swab, make_history

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def cellar(live_server: object) -> Cellar:
    """A year of two vessels, one of which gets worse."""
    cellar = Cellar(points=2, water_price_hl=0.5, minute_price=0.6)
    fouling = make_vessel(points=2)

    def rlu(swab: Swab) -> int:
        usual = swab.chance.randint(2, 6)
        return usual * 4 if swab.turn.vessel == fouling and swab.turn.number > 35 else usual

    make_history(
        cellar=cellar,
        vessels=[cellar.vessel, fouling],
        cleans=50,
        every=timedelta(days=7),
        until=clock.now(),
        rlu=rlu,
        again=lambda turn: turn.number % 9 == 0,
    )
    return cellar


def test_figure_opens_the_rows_behind_it(open_page: Opened, cellar: Cellar) -> None:
    page = open_page(user=cellar.owner, size="desk")
    page.goto("/")
    page.get_by_role("navigation", name="Rooms").get_by_role("link", name="Trends").click()
    card = page.locator(".figure-card", has=page.get_by_role("heading", name="Re-cleaned"))
    shown = card.locator(".figure-value").inner_text().split(" ")[0]
    card.get_by_role("link", name="Show rows").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Re-cleaned")
    expect(page.locator(".page-about")).to_contain_text(f"{shown} emptied in")
    expect(page.locator("tbody tr")).to_have_count(int(shown))
    page.get_by_role("link", name="Back to Trends").click()
    page.wait_for_url("**/trends/?in=90")


def test_month_of_the_trend_opens_its_rows_by_keys(open_page: Opened, cellar: Cellar) -> None:
    page = open_page(user=cellar.hand, size="desk")
    page.goto("/trends/")
    page.locator(".figure-drawing").focus()
    expect(page.locator("[data-drawn]")).to_have_count(1, timeout=PATIENCE_MS)
    page.keyboard.press("End")
    expect(page.locator(".figure-reading span")).to_contain_text(f"{clock.today():%B %Y}")
    page.keyboard.press("Enter")
    page.wait_for_url("**/trends/rows/judged/?in=*")


def test_point_getting_worse_is_two_taps_away(open_page: Opened, cellar: Cellar) -> None:
    page = open_page(user=cellar.owner, size="phone")
    page.goto("/trends/")
    page.locator(".list-title a").first.click()
    page.wait_for_url("**/trends/points/*/")


def test_figures_fit_on_one_screen_of_a_desk(open_page: Opened, cellar: Cellar) -> None:
    page = open_page(user=cellar.owner, size="desk")
    page.goto("/trends/")
    page.locator(".figure-drawing").focus()
    expect(page.locator("[data-drawn]")).to_have_count(1, timeout=PATIENCE_MS)
    box = page.locator(".figure-chart").bounding_box()
    assert box is not None
    assert box["y"] + box["height"] <= 800


def test_nav_fits_on_every_screen(open_page: Opened, cellar: Cellar, size: str) -> None:
    page = open_page(user=cellar.owner, size=size)
    page.goto("/trends/")
    rooms = "document.querySelector('.rooms')"
    assert page.evaluate(f"{rooms}.scrollWidth <= {rooms}.clientWidth")


def test_owners_page_is_sound(
    open_page: Opened, cellar: Cellar, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=cellar.owner, size=size, dark=size == "tablet")
    page.goto("/trends/")
    assert_page_is_sound(page)
    page.locator(".figure-drawing").focus()
    expect(page.locator("[data-drawn]")).to_have_count(1, timeout=PATIENCE_MS)
    page.locator("main summary").click()
    assert_page_is_sound(page)


@pytest.mark.parametrize("what", ["all", "readings", "cleans", "plates-overdue"])
def test_rows_are_sound(
    open_page: Opened,
    cellar: Cellar,
    size: str,
    assert_page_is_sound: Callable[..., None],
    what: str,
) -> None:
    page = open_page(user=cellar.owner, size=size)
    page.goto(f"/trends/rows/{what}/?in=90")
    assert_page_is_sound(page)


def test_empty_brewery_is_sound(
    open_page: Opened, live_server: object, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=Cellar().owner, size=size)
    page.goto("/trends/?in=30")
    assert_page_is_sound(page)


def test_month_that_has_no_report_is_explained(
    open_page: Opened, cellar: Cellar, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=cellar.owner, size="phone")
    open_page.watch(page).allow("404")
    page.goto("/months/2099-01.pdf")
    expect(page.get_by_text("January 2099 has not started.")).to_be_visible()
    assert_page_is_sound(page)

"""Figures in Chromium: drawn, touched, gone through by keys; and without script."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import Opened
from tests.browser.waiting import wait_until
from tests.drawing.gallery import gallery
from tests.factories import make_owner

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.urls("tests.drawing.gallery_page"),
]
COUNT = len(gallery())


# plotly is large, and the machine may be busy.
PATIENCE_MS = 60_000
FOCUS_ALL = "document.querySelectorAll('.figure-drawing').forEach((each) => each.focus())"


def shown(page: Page) -> None:
    """Every figure as a chart: each was focused once."""
    page.goto("/gallery/")
    page.evaluate(FOCUS_ALL)
    expect(page.locator("[data-drawn]")).to_have_count(COUNT, timeout=PATIENCE_MS)


@pytest.fixture
def owner(live_server: Any) -> Any:
    return make_owner()


def test_drawing_stands_first_and_plotly_is_loaded_when_it_is_touched(
    open_page: Opened, owner: Any
) -> None:
    page = open_page(user=owner, size="desk")
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto("/gallery/")
    page.wait_for_load_state("networkidle")
    assert not [address for address in asked if "plotly" in address or "traces" in address]
    expect(page.locator("#readings .figure-wide svg")).to_be_visible()
    page.locator("#readings .figure-drawing").hover()
    expect(page.locator("#readings[data-drawn]")).to_have_count(1, timeout=PATIENCE_MS)
    assert len([address for address in asked if "plotly" in address]) == 1
    # The others stay as they are until they are touched too; nothing is loaded twice.
    expect(page.locator("[data-drawn]")).to_have_count(1)
    page.locator("#shares .figure-drawing").focus()
    expect(page.locator("#shares[data-drawn]")).to_have_count(1)
    assert len([address for address in asked if "plotly" in address]) == 1
    expect(page.locator("#shares .figure-chart")).to_be_focused()


def test_every_figure_becomes_a_chart(open_page: Opened, owner: Any, size: str) -> None:
    """Any breach of the policy, or error in the console, fails the test at its end."""
    page = open_page(user=owner, size=size, dark=size == "tablet")
    shown(page)
    assert page.locator(".figure-chart .main-svg").count() >= COUNT
    assert page.locator(".figure-drawing:visible").count() == 0
    assert page.locator("style").count() == 0
    # As many dots as there are readings.
    dots = page.locator("#readings .scatterlayer .trace").nth(2).locator(".point")
    assert dots.count() == 40


def test_gallery_is_sound(
    open_page: Opened, owner: Any, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=owner, size=size)
    shown(page)
    page.evaluate("document.querySelectorAll('details').forEach((e) => { e.open = true; })")
    assert_page_is_sound(page)


def test_arrow_keys_read_dots_and_enter_follows_their_link(open_page: Opened, owner: Any) -> None:
    page = open_page(user=owner, size="desk")
    shown(page)
    chart = page.locator("#readings .figure-chart")
    reading = page.locator("#readings-reading")
    assert reading.get_attribute("aria-live") == "polite"
    chart.focus()
    page.keyboard.press("ArrowRight")
    expect(reading.locator("span")).to_have_text("Reading 1 of 40")
    page.keyboard.press("ArrowRight")
    expect(reading.locator("span")).to_have_text("Reading 2 of 40")
    expect(page.locator("#readings .hoverlayer .hovertext")).to_contain_text("Reading 2 of 40")
    page.keyboard.press("End")
    expect(reading.locator("span")).to_have_text("Reading 40 of 40")
    # The next series, at the same place: it has no words of its own.
    page.keyboard.press("ArrowDown")
    expect(reading.locator("span")).to_contain_text("alert: 31 Mar 2026, 14:00")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Home")
    expect(reading.get_by_role("link")).to_have_attribute("href", "/atp-readings/1/")
    open_page.watch(page).allow("404")
    page.keyboard.press("Enter")
    page.wait_for_url("**/atp-readings/1/")


def test_touched_dot_is_read_and_offers_its_link(open_page: Opened, owner: Any) -> None:
    page = open_page(user=owner, size="phone", has_touch=True, is_mobile=True)
    shown(page)
    dot = page.locator("#readings .scatterlayer .trace").nth(2).locator(".point").nth(5)
    dot.scroll_into_view_if_needed()
    box = dot.bounding_box()
    assert box is not None
    # Beside it: a finger is wider than a dot.
    page.touchscreen.tap(box["x"] + 4, box["y"] + 12)
    reading = page.locator("#readings-reading")
    expect(reading.locator("span")).to_have_text("Reading 6 of 40")
    link = reading.get_by_role("link", name="Open").bounding_box()
    assert link is not None
    assert link["height"] >= 48


def test_long_chart_is_looked_at_more_closely_by_keys(open_page: Opened, owner: Any) -> None:
    page = open_page(user=owner)
    shown(page)
    assert page.locator("#readings .figure-tools").count() == 0
    span = (
        "document.querySelector('#long .figure-chart').layout.xaxis.range"
        ".map((e) => typeof e === 'number' ? e : Date.parse(e.replace(' ', 'T') + 'Z'))"
        ".reduce((from, until) => until - from)"
    )
    whole = page.evaluate(span)
    page.locator("#long").get_by_role("button", name="Closer").press("Enter")
    assert page.evaluate(span) == pytest.approx(whole / 2, rel=1e-6)
    page.locator("#long").get_by_role("button", name="All").press("Enter")
    assert page.evaluate(span) == pytest.approx(whole, rel=1e-6)


def test_chart_follows_light_and_dark(open_page: Opened, owner: Any) -> None:
    page = open_page(user=owner)
    shown(page)
    paper = "document.querySelector('#readings .figure-chart').layout.paper_bgcolor"
    assert page.evaluate(paper) == "#ffffff"
    page.emulate_media(color_scheme="dark")
    wait_until(page, f"{paper} === '#182225'")


def test_drawing_stands_without_script(open_page: Opened, owner: Any, size: str) -> None:
    page = open_page(user=owner, size=size, java_script_enabled=False)
    page.goto("/gallery/")
    drawing = page.locator("#readings .figure-drawing svg:visible")
    expect(drawing).to_be_visible()
    expect(page.locator(".figure-reading")).to_have_count(0)
    assert drawing.locator("a").count() == 40
    page.locator("#readings summary").click()
    expect(page.locator("#readings tbody tr")).to_have_count(40)


def test_drawing_is_what_is_printed(open_page: Opened, owner: Any) -> None:
    page = open_page(user=owner, size="desk")
    shown(page)
    page.emulate_media(media="print")
    expect(page.locator("#readings .figure-wide svg")).to_be_visible()
    expect(page.locator("#readings .figure-chart")).to_be_hidden()

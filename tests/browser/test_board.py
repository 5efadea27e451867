"""The board in a browser: it follows by itself, it is filtered, it hangs on a wall."""

from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.board.scenes import HOUR, MINUTE, Now, crowd
from tests.browser.conftest import Opened
from tests.browser.waiting import let_it_ask
from tests.evidence import unguarded
from tests.factories import make_vessel

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def cellar(transactional_db: None) -> Now:
    cellar = Now()
    cellar.vessel.name = "FV 1"
    cellar.vessel.save()
    return cellar


def card(page: Page, name: str) -> Any:
    return page.locator("li.vessel-card", has=page.get_by_role("link", name=name, exact=True))


@pytest.mark.parametrize("dark", [False, True])
def test_board_is_sound_at_every_size(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str, dark: bool
) -> None:
    crowd(cellar, 11)
    page = open_page(user=cellar.brewer, size=size, dark=dark)
    page.goto("/")
    assert_page_is_sound(page, floor=True)


def test_empty_board_is_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    with unguarded():
        cellar.limits.delete()
    cellar.vessel.delete()
    page = open_page(user=cellar.brewer, size=size)
    page.goto("/")
    expect(page.get_by_role("link", name="Set up the cellar")).to_be_visible()
    assert_page_is_sound(page, floor=True)


def test_board_follows_what_somebody_else_does_and_keeps_focus_and_place(
    cellar: Now, open_page: Opened
) -> None:
    for number in range(2, 14):
        make_vessel(name=f"FV {number}", order=number)
    turnaround = cellar.cleaned_ago(HOUR)
    page = open_page(user=cellar.hand, size="phone")
    page.goto("/")
    expect(card(page, "FV 1").locator(".flag")).to_have_text("to sample")
    link = card(page, "FV 9").get_by_role("link", name="FV 9", exact=True)
    link.focus()
    page.evaluate("scrollTo(0, 400)")
    before = page.evaluate("scrollY")
    assert before > 0
    page.evaluate("window.same = true")

    cellar.sampled_ago(turnaround, 30 * MINUTE)
    let_it_ask(page)

    expect(card(page, "FV 1").locator(".flag")).to_have_text("to decide")
    expect(page.locator("#news")).to_have_text("FV 1: to decide.")
    expect(page.locator("#status-to_decide b")).to_have_text("1")
    expect(page.locator("#status-to_sample b")).to_have_text("0")
    expect(link).to_be_focused()
    assert page.evaluate("scrollY") == before
    assert page.evaluate("window.same"), "The page was loaded again."


def test_board_says_when_the_server_is_lost_and_found(cellar: Now, open_page: Opened) -> None:
    page = open_page(user=cellar.hand)
    for words in ("htmx:sendError", "htmx:afterRequest"):
        open_page.watch(page).allow(words)
    page.goto("/")
    note = page.get_by_text("No answer from the server")
    expect(note).to_be_hidden()
    page.context.set_offline(True)
    let_it_ask(page)
    expect(note).to_be_visible()
    page.context.set_offline(False)
    let_it_ask(page)
    expect(note).to_be_hidden()


def test_board_goes_to_the_sign_in_when_the_session_has_ended(
    cellar: Now, open_page: Opened
) -> None:
    page = open_page(user=cellar.hand)
    page.goto("/?kind=fermenter")
    page.context.clear_cookies()
    let_it_ask(page)
    page.wait_for_url("**/sign-in/?next=/%3Fkind%3Dfermenter")


def test_board_is_filtered_by_links(cellar: Now, open_page: Opened) -> None:
    bright = make_vessel(name="BT 1", kind="bright_tank")
    cellar.emptied(now=cellar.at(HOUR), vessel=bright)
    cellar.released_ago()
    page = open_page(user=cellar.hand)
    page.goto("/")
    page.get_by_role("button", name="Status: all").click()
    page.locator("#status-released").click()
    expect(page.locator(".card-name")).to_have_text(["FV 1"])
    page.get_by_role("button", name="Kind: all").click()
    page.locator("#kind-bright_tank").click()
    expect(page.get_by_text("No vessel has this status now.")).to_be_visible()
    page.get_by_role("button", name="Status: released").click()
    page.locator("#status-all").click()
    expect(page.locator(".card-name")).to_have_text(["BT 1"])
    expect(page.locator("#kind-bright_tank")).to_have_attribute("aria-current", "true")


def test_board_begins_high_up(cellar: Now, open_page: Opened, size: str) -> None:
    crowd(cellar, 11)
    page = open_page(user=cellar.brewer, size=size)
    page.goto("/")
    box = page.locator(".vessel-card").first.bounding_box()
    assert box is not None
    assert box["y"] < 150


def test_board_leads_to_the_vessel_and_to_its_next_action_in_one_tap(
    cellar: Now, open_page: Opened
) -> None:
    turnaround = cellar.to_decide()
    page = open_page(user=cellar.brewer)
    page.goto("/")
    card(page, "FV 1").get_by_role("link", name="Hold or release FV 1").click()
    page.wait_for_url(f"**/release/{turnaround.pk}/")
    page.goto("/")
    # Anywhere on the card but on its button.
    card(page, "FV 1").locator(".card-detail").click(force=True)
    page.wait_for_url(f"**/vessels/{cellar.vessel.pk}/")


@pytest.mark.parametrize("screen", [(1280, 800), (1920, 1080)])
@pytest.mark.parametrize("number", [12, 24, 40])
def test_wall_fills_its_screen_and_cuts_nothing_off(
    cellar: Now, open_page: Opened, number: int, screen: tuple[int, int]
) -> None:
    for place, vessel in enumerate(crowd(cellar, number - 1)):
        if place % 2:  # nine letters
            vessel.name = f"Kettle {place:02}" if place % 4 == 1 else f"FV1903{place:03}"
            vessel.save()
    width, height = screen
    page = open_page(user=cellar.hand, size="desk")
    page.set_viewport_size({"width": width, "height": height})
    page.goto("/?wall")
    assert 9 <= page.locator("li.vessel-card").count() <= 16
    assert page.get_by_text("Page 1 of").count() == (number > 12)
    assert page.evaluate("[document.documentElement.scrollWidth, document.body.scrollHeight]") == [
        width,
        height,
    ]
    cut = page.evaluate(
        """() => [...document.querySelectorAll(".card-name, .card-status, .card-due")]
            .filter((e) => {
                const card = e.closest(".vessel-card").getBoundingClientRect();
                const text = document.createRange();
                text.selectNodeContents(e);
                const box = text.getBoundingClientRect();
                return box.right > card.right || box.bottom > card.bottom ||
                    e.scrollWidth > e.clientWidth;
            }).map((e) => e.textContent.trim())"""
    )
    assert cut == []
    lowest = page.evaluate(
        """Math.max(...[...document.querySelectorAll(".vessel-card")].map(
            (e) => e.getBoundingClientRect().bottom))"""
    )
    assert height * 0.9 < lowest <= height
    smallest = page.evaluate(
        """Math.min(...[...document.querySelectorAll(".card-name")].map(
            (e) => parseFloat(getComputedStyle(e).fontSize)))"""
    )
    # 4 m away: a letter 1/16 of a screen that is half a metre high.
    assert smallest >= height / 20


def test_wall_pages_through_by_itself(cellar: Now, open_page: Opened) -> None:
    for number in range(2, 20):
        make_vessel(name=f"FV {number}")
    page = open_page(user=cellar.hand, size="desk")
    page.goto("/?wall")
    expect(page.get_by_text("Page 1 of 2")).to_be_visible()
    expect(page.locator(".card-name").first).to_have_text("FV 1")
    let_it_ask(page)
    expect(page.get_by_text("Page 2 of 2")).to_be_visible()
    expect(page.locator(".card-name").first).to_have_text("FV 17")


def test_wall_is_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    crowd(cellar, 11)
    page = open_page(user=cellar.hand, size=size)
    for wall in ("dark", "light"):
        page.goto(f"/?wall={wall}")
        assert_page_is_sound(page)


def test_wall_follows_by_itself(cellar: Now, open_page: Opened) -> None:
    page = open_page(user=cellar.hand, size="desk")
    page.goto("/?wall")
    expect(page.locator(".vessel-card .flag")).to_have_text("empty")
    cellar.cleaned_ago(HOUR)
    let_it_ask(page)
    expect(page.locator(".vessel-card .flag")).to_have_text("to sample")
    assert page.url.endswith("/?wall")


def test_vessel_page_is_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    first = cellar.cleaned_ago(40 * HOUR)
    cellar.sampled_ago(first, 39 * HOUR)
    cellar.decided(first, now=cellar.at(38 * HOUR))
    cellar.filled(first, now=cellar.at(37 * HOUR))
    second = cellar.emptied(now=cellar.at(20 * HOUR))
    cellar.plate_sent(second, ago=20 * HOUR)
    cellar.filled_without_release(second, ago=19 * HOUR)
    page = open_page(user=cellar.brewer, size=size)
    for vessel in (cellar.vessel, make_vessel(points=0)):
        page.goto(f"/vessels/{vessel.pk}/")
        assert_page_is_sound(page, floor=True)


def test_turnaround_page_is_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    turnaround = cellar.to_decide(rlu=20)
    page = open_page(user=cellar.brewer, size=size)
    page.goto(f"/turnarounds/{turnaround.pk}/")
    assert_page_is_sound(page, floor=True)
    cellar.filled_without_release(turnaround)
    page.reload()
    assert_page_is_sound(page, floor=True)

"""The bench in Chromium: every calculator at three sizes, the pad of a glove, paper."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from brewhygiene.bench.catalogue import BY_SLUG
from brewhygiene.people.models import User
from tests.browser.conftest import Opened
from tests.factories import make_agent, make_brewery, make_cellar_hand, make_vessel

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def hand() -> User:
    make_brewery()
    make_agent(name="Caustic liquor 50 %")
    make_vessel(name="FV7", vacuum_rating_mbar=30)
    return make_cellar_hand()


def calculate(page: Page) -> None:
    page.get_by_role("button", name="Calculate").click()


def test_index_and_pages_are_sound_empty_answered_and_refused(
    open_page: Opened, assert_page_is_sound: Callable[..., None], size: str, hand: User
) -> None:
    page = open_page(user=hand, size=size)
    page.goto("/bench/")
    assert_page_is_sound(page, floor=True)
    for place, slug in enumerate(BY_SLUG):
        page.goto(f"/bench/{slug}/")
        if place % 6 == 0:
            assert_page_is_sound(page, floor=True)
        calculate(page)
        expect(page.get_by_role("heading", name="Result")).to_be_visible()
        assert_page_is_sound(page, floor=True)
    page.goto("/bench/make-up/?volume=much&target=2")
    expect(
        page.get_by_text("“much” is not a number. Enter digits, e.g. 2.5 or 2,5.")
    ).to_be_visible()
    assert_page_is_sound(page, floor=True)


def test_answer_is_sound_in_the_dark(
    open_page: Opened, assert_page_is_sound: Callable[..., None], hand: User
) -> None:
    page = open_page(user=hand, size="phone", dark=True)
    page.goto("/bench/tank-gas/?volume=30&rating=30")
    assert_page_is_sound(page, floor=True)
    page.goto("/bench/line-flow/?flow=fast")
    assert_page_is_sound(page, floor=True)


def test_answer_comes_into_view_on_a_phone(open_page: Opened, hand: User) -> None:
    page = open_page(user=hand, size="phone")
    page.goto("/bench/make-up/")
    calculate(page)
    expect(page.locator(".bench-first .bench-value")).to_be_in_viewport()
    expect(page.locator(".bench-first .bench-value")).to_have_text("26.77")


def test_agent_is_filled_in_and_the_address_can_be_sent_on(open_page: Opened, hand: User) -> None:
    page = open_page(user=hand, size="tablet")
    page.goto("/bench/make-up/")
    page.get_by_label("Agent").select_option(label="Caustic liquor 50 %")
    page.get_by_label("Finished volume", exact=True).fill("500")
    calculate(page)
    expect(page.get_by_label("Density of the concentrate")).to_have_value("1.525")
    expect(page.get_by_label("Finished volume", exact=True)).to_have_value("500")
    said = page.locator(".bench-figures").inner_text()
    other = open_page(user=hand, size="desk")
    other.goto(page.url)
    assert other.locator(".bench-figures").inner_text().split() == said.split()


def test_glove_types_on_the_pad(open_page: Opened, hand: User) -> None:
    page = open_page(user=hand, size="phone", has_touch=True, is_mobile=True)
    page.goto("/bench/mix/")
    pad = page.get_by_role("group", name="Number pad")
    expect(pad).to_be_hidden()
    field = page.get_by_label("Volume added")
    field.tap()
    expect(pad).to_be_visible()
    pad.get_by_role("button", name="Delete last").tap()
    pad.get_by_role("button", name="5").tap()
    expect(field).to_have_value("55")
    calculate(page)
    expect(page.locator(".bench-first .bench-value")).to_have_text("1.898")


def test_part_of_a_clean_unfolds_for_a_glove_and_stays_open(
    open_page: Opened, assert_page_is_sound: Callable[..., None], hand: User
) -> None:
    page = open_page(user=hand, size="phone", has_touch=True, is_mobile=True)
    page.goto("/bench/cost/")
    expect(page.get_by_label("Volume of acid solution")).to_be_hidden()
    for part in ("Acid", "Sanitiser", "Hot water", "Prices and supply"):
        page.locator("summary", has_text=part).tap()
    assert_page_is_sound(page, floor=True)
    page.get_by_label("Volume of acid solution").fill("200")
    page.get_by_label("Price of water").fill("0.5")
    calculate(page)
    expect(page.get_by_label("Volume of acid solution")).to_be_visible()
    expect(page.get_by_label("Time of the hot water")).to_be_hidden()
    # 1500 L of rinses, 250 of caustic and 200 of acid, at 0.5 per hL.
    expect(page.locator(".bench-first .bench-value")).to_have_text("9.75")
    expect(page.get_by_role("row", name="Acid 2 3.79 0 20 1.00")).to_be_visible()


def test_works_without_script(open_page: Opened, hand: User) -> None:
    page = open_page(user=hand, size="desk", java_script_enabled=False)
    page.goto("/bench/lethality/")
    calculate(page)
    expect(page.locator(".bench-first .bench-value")).to_have_text("52.451")
    expect(page.get_by_role("button", name="Print")).to_be_hidden()


def test_paper_shows_what_was_given_and_not_the_form(open_page: Opened, hand: User) -> None:
    page = open_page(user=hand, size="desk")
    page.goto("/bench/used-caustic/?first_reading=10")
    expect(page.get_by_role("button", name="Print")).to_be_visible()
    expect(page.get_by_role("heading", name="Inputs")).to_be_hidden()
    page.emulate_media(media="print")
    expect(page.get_by_role("heading", name="Inputs")).to_be_visible()
    expect(page.get_by_text("second_reading=11.5")).to_be_visible()
    expect(page.get_by_role("button", name="Calculate")).to_be_hidden()
    expect(page.get_by_role("heading", name="Working")).to_be_visible()

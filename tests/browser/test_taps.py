"""How much a hand has to do: taps, pages and digits of a nine-step clean, a sample and a check.

A tap is a press on anything but the keys of the number pad, whose digits are counted apart. A page
is one document that the browser loads; what comes into a page by itself is none. Every caution is
ticked, and every reading that a step asks for is taken once.
"""

import dataclasses
from datetime import timedelta

import pytest
from playwright.sync_api import Locator, Page, expect

from brewhygiene.atp.models.meters import ControlCheck
from brewhygiene.atp.models.readings import Result
from brewhygiene.turnarounds.models import Clean, SafetyAcknowledgement, StepRecord
from tests import clock
from tests.browser.conftest import Opened
from tests.browser.test_whole_job import STEPS, House, check_meter
from tests.browser.waiting import wait_until

pytestmark = pytest.mark.django_db(transaction=True)

BOTH = pytest.mark.parametrize("size", ["tablet", "phone"])


@dataclasses.dataclass
class Hand:
    """One hand at one tablet, counted."""

    page: Page
    taps: int = 0
    digits: int = 0
    pages: int = 0

    def __post_init__(self) -> None:
        self.page.on("domcontentloaded", lambda _: self.count_page())

    def count_page(self) -> None:
        self.pages += 1

    def tap(self, target: Locator) -> None:
        self.taps += 1
        target.tap()

    def tap_through(self, target: Locator) -> None:
        """A tap that leads to another page."""
        with self.page.expect_event("load"):
            self.tap(target)

    def type(self, form: Locator, field: Locator, digits: str) -> None:
        """Digits on the pad of a form, which is aimed at its first number field by itself."""
        for digit in digits:
            form.locator(".pad").get_by_text(digit, exact=True).tap()
        self.digits += len(digits)
        expect(field).to_have_value(digits)


@pytest.fixture
def house() -> House:
    return House()


def read(hand: Hand, name: str, digits: str) -> None:
    page = hand.page
    tab = page.locator("#readings .tabs").first.get_by_role("link", name=name)
    if tab.get_attribute("aria-current") is None:
        hand.tap(tab)
        page.locator("#readings .tabs [aria-current]", has_text=name).wait_for()
    hand.type(page.locator("form.reading"), page.get_by_label(name, exact=True), digits)
    with page.expect_response(lambda response: "/read/" in response.url):
        hand.tap(page.locator("form.reading button.primary").first)
    wait_until(page, "!document.querySelector('#readings form[data-sent]')")
    page.locator("#readings .latest").wait_for()


def start_step(hand: Hand) -> None:
    """Its checks and its start, unless it was started with the last step's end."""
    if hand.page.locator("[data-timer]").count():
        return
    for box in hand.page.locator("main input[name=codes]").all():
        hand.tap(box)
        expect(box).to_be_checked()
    hand.tap_through(hand.page.locator("main .next").first)


def do_step(hand: Hand, minutes: str, readings: dict[str, str]) -> None:
    page = hand.page
    start_step(hand)
    for name, digits in readings.items():
        read(hand, name, digits.replace(",", "."))
    clock.move_on(timedelta(minutes=float(minutes)))
    page.context.clock.set_system_time(clock.now())
    for box in page.get_by_label("Yes", exact=True).all():
        hand.tap(box)
    hand.tap_through(page.locator(".end-acts button").first)


def to_turnaround(page: Page, house: House) -> None:
    """The vessel emptied, its turnaround in sight."""
    page.goto(f"/vessels/{house.vessel.pk}/")
    page.locator("main .next").first.click()
    page.get_by_label("Next beer").select_option(label="Skellavine Lager (invented)")
    with page.expect_event("load"):
        page.locator("main .next").first.click()


@BOTH
def test_nine_step_clean_takes_at_most_45_taps_and_20_pages(
    house: House, open_page: Opened, size: str
) -> None:
    # Samples are counted below; without a point that asks for one the step waits for none.
    house.vessel.points.update(required_for_release=False)
    page = open_page(user=house.jonas, size=size, has_touch=True)
    to_turnaround(page, house)
    hand = Hand(page)
    hand.tap_through(page.locator("main .next").first)  # clean it
    hand.tap_through(page.locator("main .next").first)  # by the proposed regime
    for title, minutes, readings in STEPS:
        assert title.casefold() in page.locator("h1").inner_text().casefold()
        do_step(hand, minutes, readings)
    clean = Clean.objects.get()
    assert clean.finished_at is not None
    assert [record.end_criterion_met for record in clean.step_records.order_by("pk")] == [
        True, True, None, True, None, True, None, None, True,
    ]  # fmt: skip
    # As many checks as ever, each by its own tick.
    ticked = [len(one.codes) for one in SafetyAcknowledgement.objects.order_by("pk")]
    assert ticked == [2, 7, 1, 2, 2, 1]
    assert hand.taps <= 45, f"{hand.taps} taps"
    assert hand.pages <= 20, f"{hand.pages} pages"


@BOTH
def test_daily_control_check_takes_three_taps_from_the_board(
    house: House, open_page: Opened, size: str
) -> None:
    page = open_page(user=house.jonas, size=size, has_touch=True)
    page.goto("/")
    hand = Hand(page)
    hand.tap_through(page.get_by_role("navigation").get_by_role("link", name="Meters").last)
    form = page.locator("form:has(.pad)").first
    hand.type(form, form.get_by_label("Blank"), "0")
    hand.tap(form.get_by_label("Positive control"))
    hand.type(form, form.get_by_label("Positive control"), "220")
    hand.tap_through(form.get_by_role("button", name="Record check"))
    made = ControlCheck.objects.get()
    assert (made.meter, made.passed) == (house.meter, True)
    assert (hand.taps, hand.digits, hand.pages) == (3, 4, 2)


@BOTH
def test_from_scan_to_verdict_takes_one_tap_and_the_digits(
    house: House, open_page: Opened, size: str
) -> None:
    page = open_page(user=house.jonas, size=size, has_touch=True)
    check_meter(page, house.meter.pk)
    to_turnaround(page, house)
    hand = Hand(page)
    hand.tap_through(page.locator("main .next").first)
    hand.tap_through(page.locator("main .next").first)
    for title, minutes, readings in STEPS:
        if title == "Sample":
            break
        do_step(hand, minutes, readings)
    start_step(hand)
    read(hand, "Temperature", "18")
    valve = house.vessel.points.get(name="Sample valve")
    page.goto(f"/p/{valve.code}/")  # as the tablet's camera opens the label
    sampling = Hand(page)
    sampling.type(page.locator("form:has(.pad)"), page.get_by_label("Reading", exact=True), "3")
    sampling.tap_through(page.get_by_role("button", name="Record reading"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("3 RLU, clear")
    assert Result.objects.get().point == valve
    assert (sampling.taps, sampling.digits, sampling.pages) == (1, 1, 1)


def click(page: Page, target: Locator, *, count: int) -> None:
    """A click that the browser takes for the first or second of two at one place."""
    box = target.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down(click_count=count)
    page.mouse.up(click_count=count)


def test_second_tap_of_a_double_one_presses_nothing_that_came_meanwhile(
    house: House, open_page: Opened
) -> None:
    page = open_page(user=house.jonas)
    to_turnaround(page, house)
    start = page.locator("main .next").first
    click(page, start, count=2)  # the first was on the page before
    assert page.url.endswith(f"/turnarounds/{house.turnaround.pk}/")
    start.dblclick()
    page.wait_for_url("**/regime/")


def test_second_tap_on_record_does_not_end_the_step(house: House, open_page: Opened) -> None:
    page = open_page(user=house.jonas, has_touch=True)
    to_turnaround(page, house)
    hand = Hand(page)
    hand.tap_through(page.locator("main .next").first)
    hand.tap_through(page.locator("main .next").first)
    start_step(hand)
    page.get_by_label("CO2 at the bottom outlet").fill("0.5")
    click(page, page.locator("form.reading button.primary").first, count=1)
    end = page.locator(".end-acts button").first
    end.wait_for()
    click(page, end, count=2)
    assert page.locator("h1").inner_text() == "FV 7, vent and purge"
    assert StepRecord.objects.get().ended_at is None
    click(page, end, count=1)
    page.wait_for_url("**/steps/2/")


def test_fast_taps_on_the_pad_are_all_typed(house: House, open_page: Opened) -> None:
    page = open_page(user=house.jonas, has_touch=True)
    page.goto(f"/meters/{house.meter.pk}/check/")
    for count, digit in enumerate("2207", start=1):
        click(page, page.locator(".pad").get_by_text(digit, exact=True), count=count)
    expect(page.get_by_label("Blank")).to_have_value("2207")

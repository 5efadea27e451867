"""The floor in Chromium: the timer, the pad, one send a tap, no script, and every state of it."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import Page, Request, expect

from brewhygiene.turnarounds.models import (
    StepReading,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from tests import clock
from tests.browser.conftest import Opened
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import url

pytestmark = pytest.mark.django_db(transaction=True)

# What floor.js waits before it tries again to send what was not answered.
TRIES_AGAIN_MS = 3000


def seconds(page: Page) -> int:
    """What the timer shows, in seconds."""
    parts = page.get_by_role("timer").inner_text().split(":")
    return sum(int(part) * 60**place for place, part in enumerate(reversed(parts)))


def posts(page: Page) -> list[Request]:
    """The forms that the page sends from now on."""
    sent: list[Request] = []
    page.on("request", lambda request: sent.append(request) if request.method == "POST" else None)
    return sent


def press(page: Page, keys: str) -> None:
    pad = page.get_by_role("group", name="Number pad")
    names = {".": "Decimal point", "<": "Delete last"}
    for key in keys:
        pad.get_by_role("button", name=names.get(key, key), exact=True).click()


# The timer


def test_the_timer_survives_a_reload_and_another_browser(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.goto(url("step", running))
    first = seconds(page)
    assert 600 <= first < 660
    page.clock.run_for(2000)
    assert seconds(page) > first
    page.reload()
    assert seconds(page) > first
    page.context.close()
    again = open_page(user=floor.hand, size="phone")
    # The first page's own clock was sent ahead; the server's is what another browser goes by.
    run = int((clock.now() - running.started_at).total_seconds())
    again.goto(url("step", running))
    assert 600 <= run <= seconds(again) < first + 60


def test_the_timer_goes_by_the_servers_clock(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    """A tablet whose own clock is three hours fast."""
    page = open_page(user=floor.hand)
    page.clock.set_system_time(clock.now() + timedelta(hours=3))
    page.goto(url("step", running))
    page.clock.run_for(3000)
    assert 600 <= seconds(page) < 700


def test_the_timer_and_what_is_left_of_it_add_up(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    """The contact time, which the minimum is of: it begins with the readings, not with the tap."""
    then = clock.now() - timedelta(minutes=8)
    floor.read(running, "concentration", 2, basis="ww", now=then)
    floor.read(running, "temperature_c", 75, now=then)
    page = open_page(user=floor.hand)
    page.goto(url("step", running))
    page.clock.run_for(1200)
    timer, left, contact = page.evaluate(
        "[...document.querySelectorAll('[data-timer], [data-left]')].map((e) => e.textContent)"
    )
    found = re.fullmatch(r"(\d+):(\d\d) until the minimum", left)
    assert found, left
    assert int(timer.split(":")[0]) - int(contact.split(":")[0]) == 2
    minutes, rest = contact.split(":")
    assert int(minutes) * 60 + int(rest) + int(found[1]) * 60 + int(found[2]) == 20 * 60


# The pad


def test_the_pad_types_and_takes_back(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    page = open_page(user=floor.hand)
    page.goto(url("step", running))
    press(page, "12<.75.")
    # The second point is not taken.
    expect(page.get_by_label("Strength", exact=True)).to_have_value("1.75")
    # The tablet's own keyboard stays away.
    assert page.get_by_label("Strength", exact=True).evaluate("e => e.inputMode") == "none"


def test_the_pad_follows_the_field(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    page = open_page(user=floor.hand)
    page.goto(f"{url('step', running)}?read=concentration&by=titration")
    press(page, "5.1")
    page.get_by_label("Titrant strength").click()
    press(page, "1")
    page.get_by_label("Sample", exact=True).click()
    press(page, "10")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".latest-value")).to_have_text("Strength 2.04 % w/v")


def test_whole_numbers_have_no_point_on_the_pad(open_page: Opened, floor: Floor) -> None:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    floor.checked(now=clock.now())
    page = open_page(user=floor.hand)
    page.goto(reverse("atp:sample", args=[turnaround.pk, floor.point.pk]))
    expect(page.get_by_role("button", name="Decimal point")).to_be_disabled()
    press(page, "07")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".verdict-rlu")).to_have_text("7 RLU")


# Sending


def test_a_reading_leaves_the_timer_and_the_page_where_they_are(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.goto(url("step", running))
    page.evaluate("document.querySelector('[role=timer]').dataset.same = 'yes'")
    press(page, "1.2")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".latest")).to_contain_text("0.3 % w/w below the minimum, 1.5 % w/w")
    expect(page.locator(".latest")).to_contain_text("Top up the agent and read again")
    assert page.get_by_role("timer").get_attribute("data-same") == "yes"
    # On to what is unread, with the pad ready.
    expect(page.get_by_label("Temperature", exact=True)).to_be_visible()
    press(page, "75")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".latest")).to_contain_text("Temperature 75 °C")
    assert seconds(page) >= 600


def test_a_second_tap_sends_nothing(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    page = open_page(user=floor.hand)
    page.goto(url("step", running))
    press(page, "2")
    sent = posts(page)
    page.get_by_role("button", name="Record reading").dblclick()
    expect(page.locator(".latest")).to_be_visible()
    assert len(sent) == 1
    assert StepReading.objects.filter(quantity="concentration").count() == 1


def test_a_second_tap_on_a_whole_page_sends_nothing(open_page: Opened, floor: Floor) -> None:
    page = open_page(user=floor.hand)
    page.goto(reverse("turnarounds:empty", args=[floor.vessel.pk]))
    sent = posts(page)
    page.get_by_role("button", name="Record emptying").dblclick()
    page.wait_for_url("**/turnarounds/*/")
    assert len(sent) == 1
    assert floor.vessel.turnarounds.count() == 1


def test_an_unanswered_reading_is_kept_and_counts_once(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    for event in ("htmx:sendError", "htmx:afterRequest"):
        open_page.watch(page).allow(event)
    page.goto(url("step", running))
    press(page, "2")
    page.context.set_offline(True)
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".kept-words")).to_contain_text("Kept on this tablet at")
    # Free for the next reading; what was typed is listed.
    expect(page.get_by_label("Strength", exact=True)).to_have_value("")
    expect(page.locator(".outbox-bar")).to_have_text("1 waiting on this tablet")
    page.context.set_offline(False)
    page.evaluate("outbox.again()")
    expect(page.locator(".outbox-bar")).to_have_count(0)
    assert StepReading.objects.filter(quantity="concentration").count() == 1


def test_a_page_sent_without_network_waits_and_is_sent_once_by_itself(
    open_page: Opened, floor: Floor
) -> None:
    page = open_page(user=floor.hand)
    open_page.watch(page).allow("ERR_INTERNET_DISCONNECTED")
    page.goto(reverse("turnarounds:empty", args=[floor.vessel.pk]))
    page.get_by_text("Add a note").click()
    note = page.locator("[name=note]")
    note.fill("Typed in the cellar's far corner")
    page.context.set_offline(True)
    page.get_by_role("button", name="Record emptying").click()
    expect(page.locator(".unanswered")).to_contain_text("is sent by itself as soon as the server")
    expect(note).to_have_value("Typed in the cellar's far corner")
    assert floor.vessel.turnarounds.count() == 0
    page.context.set_offline(False)
    page.clock.fast_forward(TRIES_AGAIN_MS)
    page.wait_for_url("**/turnarounds/*/")
    emptying = floor.vessel.turnarounds.get().emptying
    assert emptying.note == "Typed in the cellar's far corner"


def test_bad_input_is_said_beside_its_field_and_kept(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.goto(f"{url('step', running)}?read=ph")
    press(page, "15")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator("#read_value_error")).to_have_text(
        "pH 15 is not possible. Enter pH 0 to pH 14."
    )
    expect(page.get_by_label("pH", exact=True)).to_have_value("15")
    assert StepReading.objects.filter(quantity="ph").count() == 0


def test_signed_out_meanwhile_the_page_says_so(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.goto(url("step", running))
    page.context.clear_cookies(name="sessionid")
    press(page, "2")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".kept-words")).to_contain_text("You were signed out.")
    page.locator(".kept-words").get_by_role("link", name="Sign in").click()
    page.wait_for_url(f"**{reverse('people:sign_in')}?next={url('step', running)}*")


def test_the_meters_seconds_are_counted_along(open_page: Opened, floor: Floor) -> None:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    floor.checked(now=clock.now())
    page = open_page(user=floor.hand)
    page.goto(reverse("atp:sample", args=[turnaround.pk, floor.point.pk]))
    page.clock.pause_at(clock.now() + timedelta(minutes=5))
    count = page.locator("[data-countdown]")
    count.click()
    expect(count).to_have_text("15 s")
    page.clock.run_for(5000)
    expect(count).to_have_text("10 s")
    page.clock.run_for(10_100)
    expect(count).to_have_text("Enter the reading")


# Without script


def test_a_step_works_without_script(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    page = open_page(user=floor.hand, java_script_enabled=False)
    page.goto(url("step", running))
    assert re.fullmatch(r"1\d:\d\d", page.get_by_role("timer").inner_text())
    page.get_by_label("Strength", exact=True).fill("2")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".latest-value")).to_have_text("Strength 2 % w/w")
    page.get_by_role("link", name="Flow").click()
    page.get_by_label("Flow", exact=True).fill("100")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".latest")).to_contain_text("20 L/min below the minimum, 120 L/min")
    page.get_by_role("link", name="End step").click()
    expect(page.locator(".notice")).to_contain_text(["Not read yet: Temperature.", "contact time"])
    page.locator(".end-acts button").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"{floor.vessel.name}, deviation")
    page.get_by_label("Repeat the step").check()
    page.get_by_role("button", name="Save decision").click()
    page.get_by_role("button", name="Repeat step").click()
    expect(page.get_by_role("timer")).to_be_visible()
    assert Deviation.objects.filter(disposition="repeat").count() == 3

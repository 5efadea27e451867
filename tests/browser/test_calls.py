"""A step calls at its minimum, target and maximum; sound and vibration are this tablet's choice."""

from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.regimes.models import Quantity, StepWindow
from brewhygiene.turnarounds.models import StepRecord
from tests import clock
from tests.browser.conftest import Opened
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)
# What a browser has of devices, kept here to be looked at: what was played, shaken, kept awake.
DEVICES = """
window.heard = [];
window.shaken = [];
window.awake = 0;
class Tone {
  constructor() { this.frequency = {}; }
  connect(next) { return next; }
  start() { window.heard.push(this.frequency.value); }
  stop() {}
}
class Loud {
  constructor() {
    this.gain = { setValueAtTime() {}, exponentialRampToValueAtTime() {} };
  }
  connect(next) { return next; }
}
class Sound extends EventTarget {
  constructor() {
    super();
    Object.assign(this, { state: "suspended", currentTime: 0, destination: {} });
  }
  resume() {
    this.state = "running";
    this.dispatchEvent(new Event("statechange"));
    return Promise.resolve();
  }
  createOscillator() { return new Tone(); }
  createGain() { return new Loud(); }
}
window.AudioContext = Sound;
Object.defineProperty(navigator, "vibrate", {
  value: (pattern) => { window.shaken.push(pattern); return true; },
});
Object.defineProperty(navigator, "wakeLock", {
  value: {
    request: () => {
      window.awake += 1;
      window.lock = new EventTarget();
      return Promise.resolve(window.lock);
    },
  },
});
"""


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    """Hot caustic of 20 to 45 min, target 30; read as it began, on for 19 minutes and a half."""
    record = floor.running_caustic(minutes_ago=19.5)
    StepWindow.objects.filter(step=record.step, quantity=Quantity.TIME_MIN).update(target=30)
    for quantity, value, more in (
        ("concentration", 2, {"basis": "ww"}),
        ("temperature_c", 75, {}),
    ):
        floor.read(record, quantity, value, now=record.started_at, **more)
    return record


def opened(open_page: Opened, floor: Floor, record: StepRecord, *, device: bool = True) -> Page:
    page = open_page(user=floor.hand)
    if device:
        page.add_init_script(DEVICES)
    page.goto(reverse("turnarounds:step", args=[record.clean_id, record.step_id]))
    page.clock.run_for(1100)
    return page


def switch(page: Page) -> None:
    page.locator("[data-calls-switch]").click()
    expect(page.locator("[data-calls-switch]")).to_have_text("Calls on")


def tones(page: Page) -> int:
    return len(page.evaluate("window.heard"))


def test_minimum_target_and_maximum_each_call_once(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened(open_page, floor, running)
    switch(page)
    clock_box = page.locator(".clock")
    expect(clock_box).to_have_attribute("data-reached", "")
    page.clock.run_for(31_000)
    expect(clock_box).to_have_attribute("data-reached", "minimum")
    assert tones(page) == 1
    page.clock.run_for(60_000)
    assert tones(page) == 1
    page.clock.fast_forward(10 * 60_000)
    page.clock.run_for(1100)
    expect(clock_box).to_have_attribute("data-reached", "target")
    assert tones(page) == 3
    page.clock.fast_forward(15 * 60_000)
    page.clock.run_for(1100)
    expect(clock_box).to_have_attribute("data-reached", "maximum")
    assert tones(page) == 7
    assert len(page.evaluate("window.shaken")) == 3
    expect(page.locator(".left")).to_contain_text("over the maximum")


def test_over_the_maximum_looks_unlike_running(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened(open_page, floor, running)
    colour = "getComputedStyle(document.querySelector('.clock')).backgroundColor"
    before = page.evaluate(colour)
    page.clock.fast_forward(26 * 60_000)
    page.clock.run_for(1100)
    expect(page.locator(".clock")).to_have_attribute("data-reached", "maximum")
    assert page.evaluate(colour) != before
    assert page.title().startswith("0:")
    assert "over the maximum" in page.title()


def test_contact_time_under_its_minimum_is_said_however_long_the_timer_ran(
    open_page: Opened, floor: Floor
) -> None:
    record = floor.running_caustic(minutes_ago=50)
    for quantity, value, more in (
        ("concentration", 2, {"basis": "ww"}),
        ("temperature_c", 75, {}),
        ("flow_l_min", 150, {}),
    ):
        floor.read(record, quantity, value, now=clock.now() - timedelta(minutes=19.5), **more)
    page = opened(open_page, floor, record)
    warning = page.get_by_text("The contact time has not reached the minimum.")
    expect(page.locator(".clock")).to_have_attribute("data-reached", "maximum")
    expect(warning).to_be_visible()
    page.clock.run_for(32_000)
    expect(warning).to_be_hidden()


def test_nothing_sounds_before_somebody_switched_it_on(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened(open_page, floor, running)
    expect(page.locator("[data-calls-switch]")).to_have_text("Calls off")
    page.clock.run_for(31_000)
    assert tones(page) == 0
    assert page.evaluate("window.shaken") == []
    # Whoever looks sees it all the same.
    assert page.evaluate("document.body.dataset.called") == "minimum"


def test_choice_stays_with_the_tablet_and_says_when_sound_is_shut(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened(open_page, floor, running)
    switch(page)
    page.reload()
    page.clock.run_for(1100)
    expect(page.locator("[data-calls-switch]")).to_have_text(
        "Calls on, sound off: tap to switch it on"
    )
    page.locator("[data-calls-switch]").click()
    expect(page.locator("[data-calls-switch]")).to_have_text("Calls on")
    page.get_by_role("button", name="Test call").click()
    assert tones(page) == 2
    page.locator("[data-calls-switch]").click()
    expect(page.locator("[data-calls-switch]")).to_have_text("Calls off")


def test_page_that_is_loaded_again_calls_no_second_time(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened(open_page, floor, running)
    page.clock.run_for(31_000)
    page.reload()
    page.clock.run_for(2000)
    assert page.evaluate("document.body.dataset.called || ''") == ""


def test_screen_stays_awake_and_is_asked_for_again_after_sleep(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened(open_page, floor, running)
    assert page.evaluate("window.awake") == 1
    page.evaluate("window.lock.dispatchEvent(new Event('release'))")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    assert page.evaluate("window.awake") == 2


def test_tablet_without_sound_or_vibration_works_the_same(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.add_init_script("window.AudioContext = window.webkitAudioContext = undefined;")
    page.goto(reverse("turnarounds:step", args=[running.clean_id, running.step_id]))
    page.locator("[data-calls-switch]").click()
    expect(page.locator("[data-calls-switch]")).to_have_text(
        "Calls on, sound off: tap to switch it on"
    )
    page.clock.run_for(32_000)
    expect(page.locator(".clock")).to_have_attribute("data-reached", "minimum")


def test_tablet_whose_clock_is_wrong_calls_at_the_servers_time(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.add_init_script(DEVICES)
    page.clock.set_system_time(clock.now() + timedelta(hours=3))
    page.goto(reverse("turnarounds:step", args=[running.clean_id, running.step_id]))
    page.clock.run_for(1100)
    expect(page.locator(".clock")).to_have_attribute("data-reached", "")
    page.clock.run_for(32_000)
    expect(page.locator(".clock")).to_have_attribute("data-reached", "minimum")


def test_board_and_wall_count_and_show_what_is_over(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    for address in ("/", "/?wall"):
        page = open_page(user=floor.hand, size="desk")
        page.goto(address)
        page.clock.run_for(1100)
        step = page.locator(".card-step")
        expect(step).to_contain_text("Caustic")
        assert step.get_attribute("data-reached") in ("", None)
        page.clock.fast_forward(27 * 60_000)
        page.clock.run_for(1100)
        expect(page.locator(".card-step[data-reached=maximum]")).to_be_visible()

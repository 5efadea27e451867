"""The floor in Chromium: the timer, the pad, one send a tap, no script, and every state of it."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import Page, Request, expect

from brewhygiene.cellar.models import Vessel
from brewhygiene.turnarounds.models import Clean, Deviation, StepReading, StepRecord
from tests import clock
from tests.browser.conftest import Opened
from tests.factories import make_beer, make_meter, make_point, make_version, make_vessel
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)

# What floor.js waits before it tries again to send what was not answered.
TRIES_AGAIN_MS = 3000


@pytest.fixture
def floor(live_server: object) -> Floor:
    return Floor(time_zone="Europe/Berlin")


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    """Hot caustic, running for 10 minutes, nothing read."""
    return floor.running_caustic(minutes_ago=10)


def step_of(record: StepRecord) -> str:
    return reverse("turnarounds:step", args=[record.clean_id, record.step_id])


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
    page.goto(step_of(running))
    first = seconds(page)
    assert 600 <= first < 660
    page.clock.run_for(2000)
    assert seconds(page) > first
    page.reload()
    assert seconds(page) > first
    page.context.close()
    again = open_page(user=floor.hand, size="phone")
    again.goto(step_of(running))
    assert first < seconds(again) < first + 60


def test_the_timer_goes_by_the_servers_clock(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    """A tablet whose own clock is three hours fast."""
    page = open_page(user=floor.hand)
    page.clock.set_system_time(clock.now() + timedelta(hours=3))
    page.goto(step_of(running))
    page.clock.run_for(3000)
    assert 600 <= seconds(page) < 700


def test_the_timer_and_what_is_left_of_it_add_up(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.goto(step_of(running))
    page.clock.run_for(1200)
    shown, left = page.evaluate(
        "[...document.querySelectorAll('[data-timer], [data-left]')].map((e) => e.textContent)"
    )
    found = re.fullmatch(r"(\d+):(\d\d) until the least time", left)
    assert found, left
    minutes, rest = shown.split(":")
    assert int(minutes) * 60 + int(rest) + int(found[1]) * 60 + int(found[2]) == 20 * 60


# The pad


def test_the_pad_types_and_takes_back(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    page = open_page(user=floor.hand)
    page.goto(step_of(running))
    press(page, "12<.75.")
    # The second point is not taken.
    expect(page.get_by_label("Strength", exact=True)).to_have_value("1.75")
    # The tablet's own keyboard stays away.
    assert page.get_by_label("Strength", exact=True).evaluate("e => e.inputMode") == "none"


def test_the_pad_follows_the_field(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    page = open_page(user=floor.hand)
    page.goto(f"{step_of(running)}?read=concentration&by=titration")
    press(page, "5.1")
    page.get_by_label("Strength of the titrant").click()
    press(page, "1")
    page.get_by_label("Sample", exact=True).click()
    press(page, "10")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator(".latest-value")).to_have_text("Strength 2.04 % w/v")


def test_whole_numbers_have_no_point_on_the_pad(open_page: Opened, floor: Floor) -> None:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    floor.checked(now=clock.now())
    page = open_page(user=floor.hand)
    page.goto(reverse("atp:sample", args=[turnaround.pk, floor.point.pk]))
    expect(page.get_by_role("button", name="Decimal point")).to_be_disabled()
    press(page, "07")
    page.get_by_role("button", name="Record the reading").click()
    expect(page.locator(".result-rlu")).to_have_text("7 RLU")


# Sending


def test_a_reading_leaves_the_timer_and_the_page_where_they_are(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.goto(step_of(running))
    page.evaluate("document.querySelector('[role=timer]').dataset.same = 'yes'")
    press(page, "1.2")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator(".latest")).to_contain_text("0.3 % w/w below the least, 1.5 % w/w")
    expect(page.locator(".latest")).to_contain_text("Top it up and read again")
    assert page.get_by_role("timer").get_attribute("data-same") == "yes"
    # On to what is unread, with the pad ready.
    expect(page.get_by_label("Temperature", exact=True)).to_be_visible()
    press(page, "75")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator(".latest")).to_contain_text("Temperature 75 °C")
    assert seconds(page) >= 600


def test_a_second_tap_sends_nothing(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    page = open_page(user=floor.hand)
    page.goto(step_of(running))
    press(page, "2")
    sent = posts(page)
    page.get_by_role("button", name="Record it").dblclick()
    expect(page.locator(".latest")).to_be_visible()
    assert len(sent) == 1
    assert StepReading.objects.filter(quantity="concentration").count() == 1


def test_a_second_tap_on_a_whole_page_sends_nothing(open_page: Opened, floor: Floor) -> None:
    page = open_page(user=floor.hand)
    page.goto(reverse("turnarounds:empty", args=[floor.vessel.pk]))
    sent = posts(page)
    page.get_by_role("button", name="is empty").dblclick()
    page.wait_for_url("**/turnarounds/*/")
    assert len(sent) == 1
    assert floor.vessel.turnarounds.count() == 1


def test_an_unanswered_reading_is_kept_and_counts_once(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    for event in ("htmx:sendError", "htmx:afterRequest"):
        open_page.watch(page).allow(event)
    page.goto(step_of(running))
    press(page, "2")
    page.context.set_offline(True)
    page.get_by_role("button", name="Record it").click()
    expect(page.locator(".unanswered")).to_contain_text("What you typed is still here")
    expect(page.get_by_label("Strength", exact=True)).to_have_value("2")
    page.context.set_offline(False)
    page.get_by_role("button", name="Record it").click()
    expect(page.locator(".latest")).to_be_visible()
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
    page.get_by_role("button", name="is empty").click()
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
    page.goto(f"{step_of(running)}?read=ph")
    press(page, "15")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator("#read_value_error")).to_have_text(
        "pH 15 cannot be. It should lie between pH 0 and pH 14."
    )
    expect(page.get_by_label("pH", exact=True)).to_have_value("15")
    assert StepReading.objects.filter(quantity="ph").count() == 0


def test_signed_out_meanwhile_the_page_says_so(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.goto(step_of(running))
    page.context.clear_cookies(name="sessionid")
    press(page, "2")
    page.get_by_role("button", name="Record it").click()
    page.wait_for_url(f"**{reverse('people:sign_in')}?next={step_of(running)}*")


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
    expect(count).to_have_text("Read it now")


# Without script


def test_a_step_works_without_script(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    page = open_page(user=floor.hand, java_script_enabled=False)
    page.goto(step_of(running))
    assert re.fullmatch(r"1\d:\d\d", page.get_by_role("timer").inner_text())
    page.get_by_label("Strength", exact=True).fill("2")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator(".latest-value")).to_have_text("Strength 2 % w/w")
    page.get_by_role("link", name="Flow").click()
    page.get_by_label("Flow", exact=True).fill("100")
    page.get_by_role("button", name="Record it").click()
    expect(page.locator(".latest")).to_contain_text("20 L/min below the least, 120 L/min")
    page.get_by_role("link", name="End this step").click()
    expect(page.locator(".notice")).to_contain_text(["Not read yet: Temperature.", "least time"])
    page.get_by_role("button", name="End it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Caustic: decide on this")
    page.get_by_label("Repeat the step").check()
    page.get_by_role("button", name="Decide so").click()
    page.get_by_role("button", name="Start it again").click()
    expect(page.get_by_role("timer")).to_be_visible()
    assert Deviation.objects.filter(disposition="repeat").count() == 3


# Every state of every screen


def every_state(floor: Floor) -> dict[str, str]:
    """Addresses that show each screen in each state that it has."""
    now = clock.now()
    floor.checked(now=now)

    def vessel() -> Vessel:
        made = make_vessel(points=0)
        make_point(made, name="Last rinse at the cone", where_to_find="Cock below the cone")
        make_point(made, name="Manway", sample_kind="surface", area_cm2=100)
        return made

    def clean_at(order: int, minutes_ago: float = 90) -> Clean:
        floor.vessel = vessel()
        return floor.at_step(order, minutes_ago=minutes_ago)

    def step(clean: Clean, order: int) -> str:
        pk = clean.version.steps.get(order=order).pk
        return reverse("turnarounds:step", args=[clean.pk, pk])

    turnaround = floor.cleaned(now=now - timedelta(days=3), vessel=vessel())
    waiting = floor.emptied(
        now=now - timedelta(hours=40),
        vessel=vessel(),
        beer=make_beer(name="Tarn Sour (invented)", sour_or_mixed=True, allergen="lactose"),
    )
    weaker = floor.emptied(now=now, vessel=make_vessel(acid_every_n=1))
    keg = floor.emptied(now=now, vessel=make_vessel(kind="keg", points=0))
    locked, started = clean_at(2), clean_at(2)
    record = floor.running_step(started, 2, now=now - timedelta(minutes=50))
    weak = floor.read(record, "concentration", 1.2, basis="ww", now=now)
    floor.read(record, "temperature_c", 75, now=now)
    open_deviation = Deviation.objects.get(reading=weak)
    short = clean_at(2)
    ended = floor.running_step(short, 2, now=now - timedelta(minutes=10))
    floor.client.post(
        reverse("turnarounds:end_step", args=[short.pk, ended.step_id]), {"record": ended.pk}
    )
    done = clean_at(5, minutes_ago=200)
    to_sample = floor.cleaned(now=now - timedelta(minutes=40), vessel=vessel())
    rinse = to_sample.vessel.points.get(sample_kind="rinse")
    swab = to_sample.vessel.points.get(sample_kind="surface")
    clear, alert, action = (
        floor.sampled(to_sample, point=rinse, rlu=rlu, now=now) for rlu in (3, 20, 200)
    )
    other = make_meter()
    floor.checked(now=now, meter=other)
    unjudged = floor.sampled(to_sample, point=rinse, meter=other, now=now)
    return {
        "empty": reverse("turnarounds:empty", args=[make_vessel().pk]),
        "empty already": reverse("turnarounds:empty", args=[waiting.vessel_id]),
        "regime": reverse("turnarounds:regime", args=[waiting.pk]),
        "regime unmet": reverse("turnarounds:regime", args=[weaker.pk]),
        "regime none": reverse("turnarounds:regime", args=[keg.pk]),
        "next beer": reverse("turnarounds:next_beer", args=[waiting.pk]),
        "opened": reverse("turnarounds:opened", args=[turnaround.pk]),
        "safety": step(locked, 2),
        "waiting": step(locked, 4),
        "done": step(locked, 1),
        "running": step(started, 2),
        "titration": step(started, 2) + "?read=concentration&by=titration",
        "just read": step(started, 2) + f"?latest={weak.pk}",
        "another": step(started, 2) + "?read=ph",
        "decide while running": reverse("turnarounds:dispose", args=[open_deviation.pk]),
        "correct reading": reverse("turnarounds:correct_reading", args=[weak.pk]),
        "end": reverse("turnarounds:end_step", args=[started.pk, record.step_id]),
        "leave out": reverse(
            "turnarounds:leave_out", args=[locked.pk, locked.version.steps.get(order=2).pk]
        ),
        "deviation": step(short, 2),
        "clean": reverse("turnarounds:clean", args=[short.pk]),
        "stop": reverse("turnarounds:stop", args=[short.pk]),
        "not finished": reverse("turnarounds:finish", args=[short.pk]),
        "finish": reverse("turnarounds:finish", args=[done.pk]),
        "samples": reverse("atp:samples", args=[to_sample.pk]),
        "sample": reverse("atp:sample", args=[to_sample.pk, swab.pk]),
        "retest": reverse("atp:sample", args=[to_sample.pk, rinse.pk]),
        "clear": reverse("atp:result", args=[clear.pk]),
        "alert": reverse("atp:result", args=[alert.pk]),
        "action": reverse("atp:result", args=[action.pk]),
        "unjudged": reverse("atp:result", args=[unjudged.pk]),
        "correct result": reverse("atp:correct_result", args=[alert.pk]),
        "not to be corrected": reverse("atp:correct_result", args=[action.pk]),
        "label": reverse("atp:point", args=[make_point(waiting.vessel, name="Arm").code]),
        "no such label": reverse("atp:point", args=["NOSUCH"]),
    }


def test_every_state_of_every_screen_is_sound(
    open_page: Opened, floor: Floor, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    make_version(name="Acid only (invented)", level=1)
    page = open_page(user=floor.hand, size=size)
    for name, address in every_state(floor).items():
        answer = page.goto(address)
        assert answer is not None
        assert answer.status == (404 if name == "no such label" else 200), (name, page.url)
        # Whatever can be opened is looked at open.
        page.evaluate("document.querySelectorAll('details').forEach((e) => { e.open = true; })")
        assert_page_is_sound(page, floor=True)


def test_screens_with_errors_are_sound(
    open_page: Opened,
    floor: Floor,
    running: StepRecord,
    size: str,
    assert_page_is_sound: Callable[..., None],
) -> None:
    page = open_page(user=floor.hand, size=size, dark=True)
    page.goto(step_of(running))
    page.get_by_role("button", name="Record it").click()
    expect(page.locator("#read_value_error")).to_be_visible()
    assert_page_is_sound(page, floor=True)
    page.goto(reverse("turnarounds:stop", args=[running.clean_id]))
    page.get_by_role("button", name="Stop the clean").click()
    expect(page.get_by_text("Say why.")).to_be_visible()
    assert_page_is_sound(page, floor=True)

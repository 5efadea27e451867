"""The floor says one thing, the clock and the instruments another: what the record keeps of it.

Each ends in a refusal or in a mark that shows on the screen and in the release record.
"""

import io
import re
from collections.abc import Callable
from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from PIL import Image
from playwright.sync_api import Page, expect

from brewhygiene.turnarounds.models import Clean, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.observations import StepPhoto
from tests import clock
from tests.browser.conftest import Opened
from tests.reports.pdf.text import text_of
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)
BERLIN = ZoneInfo("Europe/Berlin")


def step_of(clean: Clean, order: int) -> str:
    return reverse("turnarounds:step", args=[clean.pk, clean.version.steps.get(order=order).pk])


def at_step(open_page: Opened, floor: Floor, clean: Clean, order: int) -> Page:
    page = open_page(user=floor.hand, size="tablet")
    page.goto(step_of(clean, order))
    return page


def record(page: Page, clean: Clean) -> str:
    """The words of the release record, as it is printed."""
    answer = page.context.request.get(reverse("reports:record", args=[clean.turnaround_id]))
    assert (answer.status, answer.headers["content-type"]) == (200, "application/pdf")
    return text_of(answer.body())


def end_step(page: Page) -> None:
    # On its own screen once all is read; else a link leads to it.
    if page.get_by_role("link", name="End step").count():
        page.get_by_role("link", name="End step").click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("end of")


def decide(page: Page, what: str, reason: str = "") -> None:
    page.get_by_label(what).check()
    page.get_by_role("textbox", name="Reason").fill(reason)
    page.get_by_role("button", name="Save decision").click()


def answer(page: Page, question: str, said: str) -> None:
    page.get_by_role("group", name=question).get_by_label(said, exact=True).check()


def rinsing(floor: Floor, *, ph: float) -> StepRecord:
    """The last rinse after hot caustic, running for five minutes, its pH read."""
    clean = floor.at_step(3, minutes_ago=60)
    running = floor.running_step(clean, 3, now=clock.now() - timedelta(minutes=5))
    floor.read(running, "ph", ph)
    return running


def test_caustic_stopped_after_90_seconds_is_short_on_screen_and_in_the_record(
    open_page: Opened, floor: Floor, assert_page_is_sound: Callable[..., None]
) -> None:
    running = floor.running_caustic(minutes_ago=1.5)
    for quantity, value in (("concentration", 2), ("temperature_c", 75), ("flow_l_min", 150)):
        basis = "ww" if quantity == "concentration" else ""
        floor.read(running, quantity, value, basis=basis, now=running.started_at)
    clean = running.clean
    page = at_step(open_page, floor, clean, 2)
    end_step(page)
    expect(page.locator(".notice")).to_contain_text("The contact time has not reached the minimum.")
    page.locator(".end-acts button").first.click()

    expect(page.get_by_role("heading", level=1)).to_have_text(f"{floor.vessel.name}, deviation")
    short = re.compile(r"Contact time in window 1\.\d min: below 20 min \(timer 1\.\d min\)")
    expect(page.locator(".trouble-words")).to_have_text(short)
    assert_page_is_sound(page, floor=True)
    # Nobody comes by it to the next step.
    page.goto(step_of(clean, 3))
    expect(page.get_by_text("Do caustic first.")).to_be_visible()
    page.goto(step_of(clean, 2))
    decide(page, "Accept the deviation", "The pump tripped")

    page.goto(reverse("turnarounds:clean", args=[clean.pk]))
    expect(page.locator(".clean-step-facts", has_text=short)).to_contain_text("The pump tripped")
    printed = record(page, clean)
    assert short.search(printed), printed
    assert re.search(r"Time 1\.\d min timer", printed), printed
    assert "The pump tripped" in printed
    assert not re.search(r"Time 30 min", printed)


def test_a_reclean_of_three_minutes_cannot_claim_65(
    open_page: Opened, floor: Floor, assert_page_is_sound: Callable[..., None]
) -> None:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=120))
    then = clock.now() - timedelta(minutes=3)
    clean = floor.started(turnaround, now=then)
    floor.run_step(clean, 1, now=then, minutes=0.5)
    page = at_step(open_page, floor, clean, 2)
    for box in page.locator("main input[name=codes]").all():
        box.check()
    page.get_by_role("button", name="It ran without the timer").click()

    now = clock.now().astimezone(BERLIN)
    page.get_by_label("Started").fill(f"{now - timedelta(minutes=65):%Y-%m-%dT%H:%M}")
    page.get_by_label("Ended").fill(f"{now:%Y-%m-%dT%H:%M}")
    page.get_by_label("Agent lot").fill("C-77")
    page.get_by_role("button", name="Record step").click()
    expect(page.locator("#id_started_at_error")).to_contain_text(
        re.compile(r"The step before it ended, or the clean began, at \d\d:\d\d\.")
    )
    expect(page.get_by_label("Agent lot")).to_have_value("C-77")
    assert_page_is_sound(page, floor=True)
    assert clean.step_records.count() == 1

    page.get_by_label("Started").fill(f"{now - timedelta(minutes=2):%Y-%m-%dT%H:%M}")
    page.get_by_role("button", name="Record step").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(f"{floor.vessel.name}, deviation")
    kinds = set(Deviation.objects.values_list("kind", "quantity"))
    assert ("below", "time_min") in kinds
    stated = clean.step_records.get(step__order=2)
    assert stated.stated_at is not None
    printed = record(page, clean)
    assert "min, stated afterwards), by Jonas Feld (JF)" in printed
    assert "Not decided." in printed
    assert "65 min" not in printed


def test_a_weak_strength_that_was_topped_up_is_read_again(
    open_page: Opened, floor: Floor, assert_page_is_sound: Callable[..., None]
) -> None:
    running = floor.running_caustic(minutes_ago=30)
    clean = running.clean
    floor.read(running, "temperature_c", 75, now=running.started_at)
    floor.read(running, "flow_l_min", 150, now=running.started_at)
    page = at_step(open_page, floor, clean, 2)
    page.get_by_label("Strength", exact=True).fill("1")
    page.get_by_role("button", name="Record reading").click()
    page.get_by_role("link", name="Decide on deviation").click()
    page.get_by_label("Topped up").check()
    page.get_by_label("Amount added").fill("5.5")
    page.get_by_label("Agent lot").fill("C-77")
    page.get_by_role("button", name="Save decision").click()

    expect(page.get_by_role("heading", name="To read: Strength", exact=True)).to_be_attached()
    end_step(page)
    expect(page.locator(".notice").first).to_contain_text("Not read yet: Strength.")
    page.locator(".end-acts button").first.click()
    again = "Strength was not read again after it was put right"
    expect(page.get_by_text(again).first).to_be_visible()
    assert_page_is_sound(page, floor=True)
    assert list(
        Deviation.objects.filter(kind="not_read").values_list("quantity", "disposition")
    ) == [("concentration", "")]
    printed = record(page, clean)
    assert f"{again}. Not decided." in printed
    assert "Topped up with 5.5 kg of" in printed
    assert "lot C-77" in printed


def test_a_rinse_that_reads_ph_11_3_has_not_reached_its_end(
    open_page: Opened, floor: Floor, assert_page_is_sound: Callable[..., None]
) -> None:
    running = rinsing(floor, ph=11.3)
    page = at_step(open_page, floor, running.clean, 3)
    end_step(page)
    for question in ("End reached", "Looks clean", "Smells clean"):
        answer(page, question, "Yes")
    page.locator(".end-acts button").first.click()
    expect(page.locator(".error").first).to_contain_text(
        "The last reading was pH 11.3, above 8: caustic is left."
    )
    assert_page_is_sound(page, floor=True)
    running.refresh_from_db()
    assert running.ended_at is None

    answer(page, "End reached", "No")
    page.locator(".end-acts button").first.click()
    reached = "End not reached: pH of the rinse 6 to 8"
    expect(page.locator(".trouble-words")).to_have_text(reached)
    printed = record(page, running.clean)
    assert f"{reached}. Not decided." in printed
    assert "End, pH of the rinse 6 to 8: not reached" in printed
    assert "pH 11.3" in printed


def test_what_does_not_look_clean_says_so_with_a_photo(
    open_page: Opened, floor: Floor, assert_page_is_sound: Callable[..., None]
) -> None:
    running = rinsing(floor, ph=7.2)
    page = at_step(open_page, floor, running.clean, 3)
    end_step(page)
    assert_page_is_sound(page, floor=True)
    answer(page, "Looks clean", "No")
    page.locator(".end-acts button").first.click()
    # A no asks for words, in a field that is open now.
    expect(page.locator(".error").first).to_contain_text("Enter what you found.")
    assert_page_is_sound(page, floor=True)
    page.get_by_label("Looks clean: what you found").fill("film at the cone")
    page.locator(".end-acts button").first.click()
    expect(page.locator(".error").first).to_contain_text("Choose Yes or No: smells clean.")
    answer(page, "Smells clean", "Yes")
    file = io.BytesIO()
    Image.new("RGB", (8, 8), "white").save(file, "PNG")
    page.get_by_label("Looks clean: photo").set_input_files(
        {"name": "cone.png", "mimeType": "image/png", "buffer": file.getvalue()}
    )
    page.locator(".end-acts button").first.click()
    found = "Does not look clean: film at the cone"
    expect(page.locator(".trouble-words")).to_have_text(found)
    decide(page, "Accept the deviation", "Wiped by hand")
    page.goto(reverse("turnarounds:clean", args=[running.clean_id]))
    expect(page.locator(".clean-step-facts", has_text="Smells clean")).to_contain_text(found)
    assert_page_is_sound(page, floor=True)
    photo = page.get_by_role("link", name="photo", exact=True)
    assert photo.get_attribute("href") == reverse(
        "turnarounds:step_photo", args=[StepPhoto.objects.get().pk]
    )
    printed = record(page, running.clean)
    assert "does not look clean: film at the cone (photo, SHA-256 " in printed
    assert "; smells clean." in printed
    assert f"{found}. Accept with a reason: Wiped by hand." in printed

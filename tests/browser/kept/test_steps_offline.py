"""The end of a step, decisions and the next rinse without a network."""

from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.turnarounds.models import StepReading, StepRecord
from brewhygiene.turnarounds.models.deviations import Deviation
from brewhygiene.turnarounds.models.observations import StepPhoto
from tests import clock
from tests.browser.conftest import Opened
from tests.browser.kept.tablet import carried, deliver, go_offline, with_worker
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import at, read_all, url

pytestmark = pytest.mark.django_db(transaction=True)

# A white pixel.
PHOTO = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de0000000c49444154789c63f8ffff"
    "3f0005fe02fe0dc5d5d60000000049454e44ae426082"
)


def opened(open_page: Opened, floor: Floor, record: StepRecord) -> Page:
    page = with_worker(open_page, floor.hand)
    page.goto(url("step", record))
    carried(page, "ahead/")
    return page


def test_a_whole_step_ends_and_the_rinse_after_it_starts_without_a_network(
    open_page: Opened, floor: Floor
) -> None:
    record = floor.running_caustic(minutes_ago=30)
    read_all(floor, record)
    page = opened(open_page, floor, record)
    go_offline(page)
    page.get_by_text("Add a note").click()
    page.locator("[name=note]").fill("Foam")
    page.get_by_role("button", name="End step").click()
    form = page.locator("form[data-keep=once]")
    expect(form.locator(".kept-words")).to_contain_text("Kept on this tablet at")
    expect(page.get_by_role("button", name="End step")).to_be_disabled()
    # Opened again it still says so, and takes no second end.
    page.goto(url("step", record))
    expect(form.locator(".kept-words")).to_contain_text("Kept on this tablet at")
    page.get_by_role("link", name="Continue with rinse").click()
    expect(page.get_by_text("End caustic first.")).to_be_visible()
    for box in page.get_by_role("checkbox").all():
        box.check()
    page.get_by_role("button", name="Confirm and start step").click()
    expect(page.locator(".kept-words")).to_contain_text("Kept on this tablet at")
    expect(page.locator(".outbox-bar")).to_contain_text("2 waiting on this tablet")
    assert StepRecord.objects.filter(ended_at=None).count() == 1
    page.context.set_offline(False)
    deliver(page)
    expect(page.locator(".outbox-bar")).not_to_contain_text("waiting on")
    record.refresh_from_db()
    rinse = StepRecord.objects.get(clean=record.clean, step__order=3)
    assert record.note == "Foam"
    assert record.ended_at is not None
    assert record.ended_at <= rinse.started_at
    assert StepReading.objects.get(quantity="time_min").source == "tablet_timer"


def test_a_photo_waits_on_the_tablet_and_arrives_whole(open_page: Opened, floor: Floor) -> None:
    clean = floor.at_step(3, minutes_ago=120)
    record = floor.running_step(clean, 3, now=clock.now() - timedelta(minutes=20))
    floor.end_read(record, record.step, now=clock.now() - timedelta(minutes=15))
    page = with_worker(open_page, floor.hand)
    page.goto(url("end_step", record))
    go_offline(page)
    for group in page.get_by_role("group").all():
        if group.get_by_label("Yes", exact=True).count():
            group.get_by_label("Yes", exact=True).check()
    page.get_by_text("Add notes or photos").click()
    page.locator("input[type=file]").first.set_input_files(
        {"name": "outlet.png", "mimeType": "image/png", "buffer": PHOTO}
    )
    page.get_by_role("button", name="End step").click()
    expect(page.locator(".kept-words")).to_contain_text("Kept on this tablet at")
    page.goto(reverse("delivery:waiting_here"))
    expect(page.locator("[data-outbox-list]")).to_contain_text("outlet.png")
    page.context.set_offline(False)
    deliver(page)
    expect(page.locator("[data-outbox-none]")).to_be_visible()
    assert StepPhoto.objects.get().photo.size > 0


def test_a_decision_waits_and_one_that_cannot_says_so(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    floor.read(running, "temperature_c", 40, now=clock.now() - timedelta(minutes=2))
    low = Deviation.objects.get()
    page = with_worker(open_page, floor.hand)
    page.goto(url("step", running))
    carried(page, "decide/")
    go_offline(page)
    page.get_by_role("link", name="Decide on deviation").click()
    page.get_by_label("Repeat the step").check()
    page.get_by_role("button", name="Save decision").click()
    expect(page.locator(".kept-words")).to_contain_text("“Repeat the step” needs the network.")
    page.get_by_label("Heated up").check()
    page.get_by_role("button", name="Save decision").click()
    expect(page.locator(".kept-words")).to_contain_text("Kept on this tablet at")
    page.context.set_offline(False)
    deliver(page)
    expect(page.locator(".outbox-bar")).not_to_contain_text("waiting on")
    low.refresh_from_db()
    assert low.disposition == "heat"


def test_caustic_does_not_start_without_the_network(open_page: Opened, floor: Floor) -> None:
    clean = floor.at_step(2)
    page = with_worker(open_page, floor.hand)
    page.goto(url("step", None, *at(clean, 2)))
    said = page.locator("[data-when-offline]")
    expect(said).to_be_hidden()
    go_offline(page)
    expect(said).to_have_text("Caustic with an agent needs the network to start.")
    for box in page.get_by_role("checkbox").all():
        box.check()
    page.get_by_role("button", name="Confirm and start step").click()
    expect(page.locator(".kept-words")).to_contain_text("Nothing was kept or sent.")
    assert page.evaluate("outbox.all().then((all) => all.length)") == 0
    page.context.set_offline(False)
    page.get_by_role("button", name="Confirm and start step").click()
    expect(page.locator("[data-timer]")).to_be_visible()
    assert StepRecord.objects.filter(clean=clean, step__order=2).exists()

"""What the server has otherwise: both sides on the tablet, and what can be done about it."""

from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.readings import Result
from brewhygiene.turnarounds.models import Clean, StepReading
from tests import clock
from tests.browser.conftest import Opened
from tests.browser.kept.tablet import deliver, go_offline, with_worker
from tests.evidence import unguarded
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import url

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_clean_that_was_finished_meanwhile_shows_both_sides_and_takes_it_as_late(
    open_page: Opened, floor: Floor
) -> None:
    clean = floor.at_step(2, minutes_ago=120)
    record = floor.running_step(clean, 2, now=clock.now() - timedelta(minutes=40))
    for quantity, value in (("concentration", 2), ("temperature_c", 75), ("flow_l_min", 150)):
        basis = {"basis": "ww"} if quantity == "concentration" else {}
        floor.read(record, quantity, value, now=record.started_at, **basis)
    page = with_worker(open_page, floor.hand)
    page.goto(f"{url('step', record)}?read=temperature_c")
    go_offline(page)
    page.get_by_label("Temperature", exact=True).fill("76")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".kept-words")).to_contain_text("Kept on this tablet at")
    # Another tablet ends the step and the clean.
    with unguarded():
        type(record).objects.filter(pk=record.pk).update(
            ended_at=clock.now() + timedelta(minutes=5), ended_by=floor.brewer
        )
        Clean.objects.filter(pk=clean.pk).update(
            finished_at=clock.now() + timedelta(minutes=6), finished_by=floor.brewer
        )
    page.context.set_offline(False)
    deliver(page)
    page.goto(reverse("delivery:waiting_here"))
    item = page.locator("[data-outbox-list] li")
    expect(item).to_contain_text("This clean is finished.")
    expect(item.get_by_role("heading", name="On this tablet")).to_be_visible()
    side = item.locator(".other-side")
    expect(side.get_by_role("heading", name="On the server")).to_be_visible()
    expect(side).to_contain_text(f"Clean finished by {floor.brewer}")
    item.get_by_role("button", name="Record as late").click()
    expect(page.locator("[data-outbox-none]")).to_be_visible()
    assert StepReading.objects.filter(value=76).count() == 1
    page.goto(url("step", record))
    expect(page.get_by_text("Arrived after the clean was finished")).to_have_count(1)


def test_limits_that_changed_meanwhile_are_told(open_page: Opened, floor: Floor) -> None:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    floor.checked(now=clock.now())
    page = with_worker(open_page, floor.hand)
    page.goto(reverse("atp:sample", args=[turnaround.pk, floor.point.pk]))
    go_offline(page)
    page.get_by_label("Reading", exact=True).fill("7")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".kept-words")).to_contain_text("Provisional: clear.")
    with unguarded():
        LimitSet.objects.update(alert_rlu=3, action_rlu=5)
    page.context.set_offline(False)
    deliver(page)
    expect(page.locator(".outbox-bar")).to_contain_text("1 judged otherwise than on the tablet")
    assert Result.objects.get().verdict == "action"
    page.goto(reverse("delivery:waiting_here"))
    item = page.locator("[data-outbox-list] li")
    expect(item).to_contain_text("Provisional: clear.")
    expect(item).to_contain_text("Recorded, and judged otherwise: action.")
    item.get_by_role("link", name="Open record").click()
    expect(page.get_by_text("By the limits in force it is action.")).to_be_visible()
    page.goto(reverse("delivery:waiting_here"))
    item.get_by_role("button", name="I have seen it").click()
    expect(page.locator("[data-outbox-none]")).to_be_visible()

"""The sample step on the tablet: from the rinse's temperature to the reading and back."""

from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.atp.models.readings import Result
from brewhygiene.regimes.models import StepKind
from brewhygiene.turnarounds.models import StepRecord
from brewhygiene.turnarounds.steps import actions as step_actions
from tests import clock
from tests.browser.conftest import Opened
from tests.factories import (
    acting,
    add_step,
    make_limits,
    make_peracetic,
    make_version,
    seen_well,
)
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)


def press(page: Page, keys: str) -> None:
    pad = page.get_by_role("group", name="Number pad")
    for key in keys:
        pad.get_by_role("button", name=key, exact=True).click()


@pytest.fixture
def floor(live_server: object) -> Floor:
    made = Floor(time_zone="Europe/Berlin")
    made.vessel.points.update(moment="before_sanitiser")
    made.version = make_version(steps=False)
    add_step(made.version, StepKind.RINSE, end_criterion="neutral")
    add_step(
        made.version,
        StepKind.SAMPLE,
        windows={"temperature_c": (None, 30)},
        instruction="ATP of the last rinse, before the sanitiser.",
    )
    add_step(made.version, StepKind.SANITISER, agent=make_peracetic())
    make_limits(by=made.brewer, meter=made.meter, atp_test=made.atp_test, moment="before_sanitiser")
    return made


@pytest.fixture
def record(floor: Floor) -> StepRecord:
    """The rinse has ended, the sample step runs."""
    begun = clock.now() - timedelta(minutes=20)
    turnaround = floor.emptied(now=begun)
    floor.checked(now=clock.now() - timedelta(minutes=5))
    clean = floor.started(turnaround, now=begun)
    rinse, sample, _ = floor.version.steps.order_by("order")
    rinsed = floor.step_started(clean, rinse, now=begun)
    ended = begun + timedelta(minutes=5)
    floor.end_read(rinsed, rinse, now=ended)
    step_actions.end_step(
        by=acting(floor.hand, now=ended),
        record=rinsed,
        end_criterion_met=True,
        observations=seen_well(clean, rinse),
    )
    return floor.step_started(clean, sample, now=begun + timedelta(minutes=6))


def test_a_sample_is_read_at_its_step_and_the_clean_goes_on(
    open_page: Opened, floor: Floor, record: StepRecord
) -> None:
    page = open_page(user=floor.hand, size="tablet")
    page.goto(reverse("turnarounds:step", args=[record.clean_id, record.step_id]))
    expect(page.get_by_role("link", name="Take samples")).to_have_count(0)
    press(page, "18")
    page.get_by_role("button", name="Record reading").click()
    page.get_by_role("link", name="Take samples").click()
    expect(page.get_by_text("Last rinse, before the sanitiser").first).to_be_visible()
    page.get_by_role("link", name="Sample Point 1").first.click()
    press(page, "3")
    page.get_by_role("button", name="Record reading").click()
    expect(page.get_by_role("link", name="End sample step")).to_be_visible()
    result = Result.objects.get()
    assert (result.moment, result.verdict, result.clean_id) == (
        "before_sanitiser",
        "clear",
        record.clean_id,
    )
    page.get_by_role("link", name="End sample step").click()
    page.locator(".end-acts button").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("sanitiser")

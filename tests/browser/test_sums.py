"""The sums beside the work in Chromium: what to add, tank gas, flow, cost, calibration."""

from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.regimes.conductivity.actions import save_calibration
from brewhygiene.regimes.conductivity.calibration import Pair
from brewhygiene.regimes.models import Agent
from brewhygiene.turnarounds import actions
from brewhygiene.turnarounds.models import Clean, StepRecord
from tests import clock
from tests.browser.conftest import Opened
from tests.factories import acting
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)

PRICES = {
    "water_price_hl": 0.42,
    "effluent_price_hl": 0.38,
    "energy_price_kwh": 0.11,
    "minute_price": 0.6,
}
PAIRS = [Pair(0.5, 25, 20), Pair(1, 49, 20), Pair(2, 93, 21), Pair(3, 134, 20)]


@pytest.fixture
def floor(live_server: object) -> Floor:
    found = Floor(time_zone="Europe/Berlin", **PRICES)
    Agent.objects.update(price_kg=0.9)
    return found


def step_of(clean: Clean, order: int) -> str:
    return reverse("turnarounds:step", args=[clean.pk, clean.version.steps.get(order=order).pk])


def weak(floor: Floor) -> StepRecord:
    record = floor.running_caustic()
    floor.read(record, "concentration", 1.2, basis="ww")
    return record


def unfolded(page: Page, address: str) -> None:
    answer = page.goto(address)
    assert answer is not None
    assert answer.status == 200, address
    page.evaluate("document.querySelectorAll('details').forEach((e) => { e.open = true; })")


def test_tank_gas_is_sound(
    open_page: Opened, floor: Floor, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=floor.hand, size=size, dark=size == "phone")
    here = step_of(floor.at_step(2), 2)
    for address in (here, f"{here}?gas_c=warm&gas_bar=9&solution=", f"{here}?solution=250&gas_c=4"):
        unfolded(page, address)
        expect(page.get_by_text("Estimate of gas and vacuum")).to_be_visible()
        assert_page_is_sound(page, floor=True)


def test_what_to_add_and_the_flow_are_sound(
    open_page: Opened, floor: Floor, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page(user=floor.hand, size=size, dark=size == "phone")
    record = weak(floor)
    flow = floor.read(record, "flow_l_min", 100)
    here = step_of(record.clean, 2)
    decide = reverse("turnarounds:dispose", args=[record.deviations.first().pk])
    for address in (
        here,
        f"{here}?solution=a+lot",
        f"{here}?solution=250&latest={flow.pk}&read=flow_l_min",
        f"{here}?read=concentration&by=conductivity",
        f"{decide}?solution=250",
        reverse("board:vessel", args=[floor.vessel.pk]),
    ):
        unfolded(page, address)
        assert_page_is_sound(page, floor=True)


def test_cost_is_sound(
    open_page: Opened, floor: Floor, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    floor.vessel.solution_l = 250
    floor.vessel.save()
    clean = floor.at_step(5, minutes_ago=200)
    clean = actions.finish_clean(by=acting(floor.hand, now=clock.now()), clean=clean)
    page = open_page(user=floor.brewer, size=size, dark=size == "phone")
    for address in (
        reverse("turnarounds:cost", args=[clean.pk]),
        reverse("turnarounds:clean", args=[clean.pk]),
        reverse("board:turnaround", args=[clean.turnaround_id]),
    ):
        unfolded(page, address)
        assert_page_is_sound(page)


def test_set_up_of_prices_and_calibration_is_sound(
    open_page: Opened, floor: Floor, size: str, assert_page_is_sound: Callable[..., None]
) -> None:
    agent = Agent.objects.filter(active_substance="NaOH").first()
    page = open_page(user=floor.brewer, size=size, dark=size == "phone")
    at = reverse("regimes:calibration", args=[agent.pk])
    unfolded(page, at)
    assert_page_is_sound(page)
    page.get_by_label("Pairs").fill("0.5; 25; 20\n1; many; 20")
    page.get_by_role("button", name="Fit pairs").click()
    expect(page.get_by_text("Line 2: “many” is not a number.")).to_be_visible()
    assert_page_is_sound(page)
    for number in range(2):
        save_calibration(by=acting(floor.brewer), agent=agent, pairs=PAIRS[number - 1 :] + PAIRS,
                         basis="wv")  # fmt: skip
    for address in (
        at,
        reverse("brewery:prices"),
        reverse("regimes:agent", args=[agent.pk]),
        reverse("cellar:vessel_edit", args=[floor.vessel.pk]),
    ):
        unfolded(page, address)
        assert_page_is_sound(page)


def test_weak_caustic_is_topped_up_by_what_the_page_says(open_page: Opened, floor: Floor) -> None:
    """From the weak reading to the amount, with the volume typed once and kept on the way."""
    page = open_page(user=floor.hand, size="phone")
    page.goto(step_of(weak(floor).clean, 2))
    page.get_by_label("Solution in the circuit").fill("250")
    page.get_by_role("button", name="Calculate amount").click()
    adding = page.locator("#adding")
    expect(adding).to_contain_text("5.56 kg")
    expect(adding).to_contain_text("Never add water to the concentrate: it boils and spits.")
    # On to another reading and back, by the page's own links: it stays.
    page.get_by_role("link", name="Flow").click()
    expect(page.get_by_text("The static spray device needs 110 to 163 L/min.")).to_be_visible()
    expect(adding).to_contain_text("5.56 kg")
    page.get_by_label("Flow", exact=True).fill("150")
    page.get_by_role("button", name="Record reading").click()
    expect(page.get_by_role("status")).to_contain_text("Flow 150 L/min")
    expect(adding).to_contain_text("5.56 kg")


def test_pairs_are_fitted_looked_at_and_saved(open_page: Opened, floor: Floor) -> None:
    agent = Agent.objects.filter(active_substance="NaOH").first()
    page = open_page(user=floor.brewer, size="phone")
    page.goto(reverse("regimes:calibration", args=[agent.pk]))
    page.get_by_label("Pairs").fill("0.5; 25; 20\n1; 49; 20\n2; 93; 21\n3; 134; 20")
    page.get_by_role("button", name="Fit pairs").click()
    expect(page.get_by_text("Not saved yet.")).to_be_visible()
    page.get_by_role("button", name="Save calibration").click()
    expect(page.get_by_role("heading", name="In force")).to_be_visible()

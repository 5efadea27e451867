"""Changing hands without a network: a name is stated, and confirmed by PIN once there is one."""

import pytest
from django.contrib.auth.hashers import make_password
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.delivery.models import Arrival
from brewhygiene.people.models import User
from brewhygiene.turnarounds.models import StepReading, StepRecord
from tests.browser.conftest import Opened
from tests.browser.kept.tablet import carried, deliver, go_offline, with_worker
from tests.factories import make_cellar_hand
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import url

pytestmark = pytest.mark.django_db(transaction=True)

PIN = "4711"


@pytest.fixture
def other() -> User:
    return make_cellar_hand(full_name="Kofi Brandt", pin_hash=make_password(PIN))


def read(page: Page, degrees: str) -> None:
    page.get_by_label("Temperature", exact=True).fill(degrees)
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".kept-words")).to_contain_text("Kept on this tablet at")


def test_hands_change_without_a_network_and_the_name_is_confirmed_by_pin(
    open_page: Opened, floor: Floor, running: StepRecord, other: User
) -> None:
    page = with_worker(open_page, floor.hand)
    step = f"{url('step', running)}?read=temperature_c"
    page.goto(step)
    carried(page, "name/")
    go_offline(page)
    read(page, "75")
    page.locator("a[data-change-hands]").click()
    expect(page.locator("[data-stated-offline]")).to_contain_text("name stated, not verified")
    page.get_by_role("button", name="Kofi Brandt").click()
    expect(page.locator(".outbox-bar")).to_contain_text("Kofi Brandt: name stated, not verified")
    read(page, "76")
    page.goto(reverse("delivery:waiting_here"))
    # One person's items are not shown to another.
    rows = page.locator("[data-outbox-list] li")
    expect(rows).to_have_count(1)
    expect(rows).to_contain_text("Kofi Brandt (name stated, not verified)")
    expect(page.locator("[data-outbox-others]")).to_contain_text("1 more of other people")
    # Nothing by which a PIN could be tried is on the tablet.
    kept = page.evaluate(
        """async () => {
            const pages = await caches.open("pages-1");
            const texts = await Promise.all(
                (await pages.keys()).map(async (key) => (await pages.match(key)).text()),
            );
            return texts.join("") + JSON.stringify(localStorage);
        }"""
    )
    assert "argon2" not in kept
    assert PIN not in kept
    # The network is back: what waits is sent, and the last person's session is ended.
    page.context.set_offline(False)
    page.goto(step)
    page.wait_for_url("**/sign-in/**")
    found = StepReading.objects.filter(quantity="temperature_c").order_by("pk")
    assert [(one.value, one.taken_by) for one in found] == [(75, floor.hand), (76, other)]
    assert [one.name_stated for one in Arrival.objects.order_by("pk")] == [False, True]
    assert page.evaluate("localStorage.getItem('stated-hand')") is None
    open_page.sign_in(page, other)
    page.goto("/")
    page.get_by_role("link", name="1 record in your name to confirm").click()
    page.get_by_role("checkbox").check()
    page.get_by_label("Your PIN or password").fill(PIN)
    page.get_by_role("button", name="Confirm as mine").click()
    expect(page.get_by_text("Nothing waits for your confirmation")).to_be_visible()
    assert Arrival.objects.get(name_stated=True).confirmed_by == other
    page.goto(step)
    expect(page.get_by_text("name stated, not verified")).to_have_count(0)


def test_a_stated_end_waits_behind_the_readings_of_another(
    open_page: Opened, floor: Floor, running: StepRecord, other: User
) -> None:
    """Of one clean in order, whoever typed it: the first one's session ended meanwhile."""
    page = with_worker(open_page, floor.hand)
    page.goto(f"{url('step', running)}?read=temperature_c")
    carried(page, "end/")
    go_offline(page)
    read(page, "75")
    page.evaluate(
        """([person, name]) => {
            const session = document.body.dataset.person;
            const said = { person: String(person), name: name, short: "KB", session: session };
            localStorage.setItem("stated-hand", JSON.stringify(said));
        }""",
        [other.pk, other.full_name],
    )
    page.goto(url("end_step", running))
    page.get_by_role("button", name="End step").click()
    expect(page.locator(".kept-words")).to_contain_text("Kept on this tablet at")
    open_page.sign_in(page, floor.brewer)
    page.context.set_offline(False)
    page.goto(reverse("delivery:waiting_here"))
    deliver(page)
    running.refresh_from_db()
    assert running.ended_at is None
    open_page.sign_in(page, floor.hand)
    page.goto(reverse("delivery:waiting_here"))
    deliver(page)
    expect(page.locator("[data-outbox-others]")).to_be_hidden()
    running.refresh_from_db()
    assert running.ended_by == other
    assert StepReading.objects.get(quantity="temperature_c").taken_by == floor.hand

"""On a tablet and a phone the act that a screen is for is in sight before anybody scrolls."""

from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import Locator, expect

from tests import clock
from tests.board.scenes import Now
from tests.browser.conftest import Opened
from tests.factories import make_vessel
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)

HELD_IN_A_HAND = ("tablet", "phone")


# Whether a thing is wholly on the screen, and nothing that sticks to an edge lies over it.
IN_SIGHT = """(act) => {
    const box = act.getBoundingClientRect();
    const inset = 6, heights = [box.top + inset, box.bottom - inset];
    const seen = heights.every((y) => {
        const top = document.elementFromPoint(box.left + box.width / 2, y);
        return top !== null && (act.contains(top) || top.contains(act));
    });
    return scrollY === 0 && box.top >= 0 && box.bottom <= innerHeight && seen;
}"""


def assert_in_sight(*acts: Locator) -> None:
    for act in acts:
        expect(act).to_be_visible()
        assert act.evaluate(IN_SIGHT), act


@pytest.mark.parametrize("size", HELD_IN_A_HAND)
def test_floor_acts_are_in_sight(live_server: object, open_page: Opened, size: str) -> None:
    floor = Floor(time_zone="Europe/Berlin")
    now = clock.now()
    record = floor.running_caustic(minutes_ago=10)
    floor.vessel = make_vessel()
    rinse = floor.running_step(floor.at_step(3, minutes_ago=60), 3, now=now - timedelta(minutes=5))
    floor.checked(now=now)
    to_sample = floor.cleaned(now=now - timedelta(minutes=40), vessel=make_vessel())
    point = to_sample.vessel.points.get()
    read = floor.sampled(to_sample, point=point, rlu=200, now=now)
    page = open_page(user=floor.hand, size=size)

    page.goto(reverse("turnarounds:step", args=[record.clean_id, record.step_id]))
    first = page.locator("input.number:visible").first
    assert_in_sight(first, page.get_by_role("button", name="Record").first)

    end_rinse = reverse("turnarounds:end_step", args=[rinse.clean_id, rinse.step_id])
    page.goto(end_rinse)
    assert_in_sight(page.locator(".end-acts button").first)

    page.goto(reverse("atp:sample", args=[to_sample.pk, point.pk]))
    assert_in_sight(page.get_by_label("Reading"), page.get_by_role("button", name="Record reading"))

    page.goto(reverse("atp:reading", args=[read.pk]))
    assert_in_sight(page.get_by_role("link", name="Re-clean").first)


@pytest.mark.parametrize("size", HELD_IN_A_HAND)
def test_acts_of_board_and_release_are_in_sight(
    transactional_db: None, open_page: Opened, size: str
) -> None:
    cellar = Now()
    turnaround = cellar.to_decide(rlu=20)
    page = open_page(user=cellar.brewer, size=size)

    page.goto("/")
    first = page.locator(".vessel-card").first
    expect(first).to_be_visible()
    box = first.bounding_box()
    assert box is not None
    assert box["y"] < 150

    page.goto(reverse("release:decide", args=[turnaround.pk]))
    # Wherever the panel itself is, a way to it stays in sight.
    assert_in_sight(page.locator(".sign-jump a"))
    page.locator(".sign-jump a").click()
    expect(page.get_by_label("Your password")).to_be_in_viewport()

    page.goto(reverse("cellar:vessel_add"))
    assert_in_sight(page.locator(".save-bar button").first)

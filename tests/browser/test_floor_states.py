"""Every screen of the floor in every state that it has, at the three sizes."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from brewhygiene.cellar.models import Vessel
from brewhygiene.turnarounds.models import (
    Clean,
    StepRecord,
)
from brewhygiene.turnarounds.models.deviations import Deviation
from tests import clock
from tests.browser.checks.layout import assert_no_sideways_scroll
from tests.browser.conftest import Opened
from tests.factories import make_beer, make_meter, make_point, make_version, make_vessel
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import url

pytestmark = pytest.mark.django_db(transaction=True)


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
        beer=make_beer(name="Skellavine Sour (invented)", sour_or_mixed=True, allergen="lactose"),
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
        "clear": reverse("atp:reading", args=[clear.pk]),
        "alert": reverse("atp:reading", args=[alert.pk]),
        "action": reverse("atp:reading", args=[action.pk]),
        "unjudged": reverse("atp:reading", args=[unjudged.pk]),
        "correct result": reverse("atp:correct_reading", args=[alert.pk]),
        "not to be corrected": reverse("atp:correct_reading", args=[action.pk]),
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


def test_every_state_fits_a_phone_with_text_twice_as_large(open_page: Opened, floor: Floor) -> None:
    page = open_page(user=floor.hand, size="phone")
    for address in every_state(floor).values():
        page.goto(address)
        page.evaluate("document.documentElement.style.fontSize = '200%'")
        page.evaluate("document.querySelectorAll('details').forEach((e) => { e.open = true; })")
        assert_no_sideways_scroll(page)


def test_screens_with_errors_are_sound(
    open_page: Opened,
    floor: Floor,
    running: StepRecord,
    size: str,
    assert_page_is_sound: Callable[..., None],
) -> None:
    page = open_page(user=floor.hand, size=size, dark=True)
    page.goto(url("step", running))
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator("#read_value_error")).to_be_visible()
    assert_page_is_sound(page, floor=True)
    page.goto(reverse("turnarounds:stop", args=[running.clean_id]))
    page.get_by_role("button", name="Stop clean").click()
    expect(page.get_by_text("Enter a reason.")).to_be_visible()
    assert_page_is_sound(page, floor=True)

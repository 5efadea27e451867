"""Charts of points and vessels, signals, what points share, and the forms that change a chart."""

import random
import re
from collections.abc import Callable
from datetime import timedelta

from playwright.sync_api import expect

from brewhygiene.cellar.models import PartWork, SamplingPoint
from brewhygiene.people.models import User
from tests import clock
from tests.browser.conftest import Opened
from tests.browser.test_figures import PATIENCE_MS
from tests.factories import Cellar, make_meter, make_vessel
from tests.histories import Swab, make_history


def house() -> Cellar:
    """Three vessels; one point of FV1 has read high of late, and FV2 has a new meter."""
    cellar = Cellar(points=2)
    cellar.vessel.name = "FV0"
    cellar.vessel.save()
    others = [make_vessel(points=2, name=f"FV{n}", order=n) for n in (1, 2)]
    second = make_meter(name="Second meter")

    def rlu(swab: Swab) -> int:
        place = (swab.turn.vessel.order, swab.point.order, swab.turn.number)
        calm = random.Random(str(place)).choice((0, 1, 1, 2, 2, 3, 4, 5))
        return calm * 5 + 15 if place[:2] == (1, 1) and swab.turn.number >= 44 else calm

    make_history(
        cellar=cellar,
        vessels=[cellar.vessel, *others],
        cleans=50,
        every=timedelta(days=4),
        until=clock.now() - timedelta(days=1),
        rlu=rlu,
        meter=lambda turn: (
            second if turn.vessel.name == "FV2" and turn.number >= 40 else cellar.meter
        ),
        agent_lot=lambda turn: f"C-{turn.number // 10}",
    )
    PartWork.objects.create(
        vessel=cellar.vessel,
        kind="gasket",
        done_at=clock.now() - timedelta(days=100),
        recorded_by=cellar.hand,
    )
    return cellar


def test_point_that_gets_worse_is_sound_and_says_so(
    open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    house()
    point = bad_point_of("FV1")
    page = open_page(user=user_named("Mara Oduya"), size=size)
    page.goto(f"/trends/points/{point}/")
    assert_page_is_sound(page)
    expect(page.get_by_text("Getting worse", exact=False).first).to_be_visible()
    expect(page.get_by_text("the moving average (EWMA) is beyond its limit").first).to_be_visible()
    expect(page.get_by_text("gasket", exact=True).first).to_be_visible()
    page.locator(".figure-drawing").focus()
    expect(page.locator("figure .js-plotly-plot")).to_be_visible(timeout=PATIENCE_MS)
    assert_page_is_sound(page)


def test_vessel_signals_and_common_are_sound(
    open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    cellar = house()
    page = open_page(user=cellar.brewer, size=size)
    page.goto(f"/vessels/{cellar.vessel.pk}/")
    page.get_by_role("link", name="Trends of FV0").click()
    assert_page_is_sound(page)
    expect(page.locator("strong", has_text="new gasket")).to_be_visible()
    page.goto("/trends/signals/")
    assert_page_is_sound(page)
    expect(page.get_by_role("heading", name="One point: FV1, Point 2")).to_be_visible()
    expect(page.get_by_text("false alarms are expected")).to_be_visible()
    page.get_by_role("link", name="Shared causes").click()
    assert_page_is_sound(page)
    expect(page.get_by_text("All points, week by week")).to_be_visible()


def test_pages_are_sound_in_the_dark(
    open_page: Opened, assert_page_is_sound: Callable[..., None]
) -> None:
    cellar = house()
    page = open_page(user=cellar.brewer, size="tablet", dark=True)
    for address in (
        f"/trends/points/{bad_point_of('FV1')}/",
        "/trends/signals/",
        "/trends/common/",
    ):
        page.goto(address)
        assert_page_is_sound(page)


def test_charts_are_read_without_script(open_page: Opened) -> None:
    house()
    page = open_page(user=user_named("Jonas Feld"), size="phone", java_script_enabled=False)
    page.goto(f"/trends/points/{bad_point_of('FV1')}/")
    expect(page.locator("figure .figure-narrow svg").last).to_be_visible()
    page.get_by_text("Show as a table").click()
    expect(page.get_by_role("columnheader", name="Moving average, RLU")).to_be_visible()
    page.get_by_role("link", name="Western Electric, four zone rules").click()
    expect(page.get_by_text("4 of 5 readings beyond 1 sigma on one side").first).to_be_visible()


def test_work_on_a_part_begins_the_chart_anew(
    open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    house()
    point = bad_point_of("FV1")
    page = open_page(user=user_named("Jonas Feld"), size=size)
    page.goto(f"/trends/points/{point}/")
    page.get_by_role("link", name="Record work on a part").click()
    assert_page_is_sound(page, floor=True)
    page.get_by_role("button", name="Record work").click()
    expect(page.get_by_text("Choose what was done.")).to_be_visible()
    page.get_by_label("new gasket").check()
    page.get_by_label("Note").fill("EPDM")
    page.get_by_role("button", name="Record work").click()
    expect(page).to_have_url(re.compile(rf"/trends/points/{point}/$"))
    expect(page.get_by_text("Its control charts start a new phase.")).to_be_visible()
    expect(page.get_by_text("No reading since (new gasket: EPDM).").first).to_be_visible()


def test_new_phase_is_started_with_a_reason(
    open_page: Opened, assert_page_is_sound: Callable[..., None]
) -> None:
    house()
    point = bad_point_of("FV1")
    page = open_page(user=user_named("Mara Oduya"), size="tablet")
    page.goto(f"/trends/points/{point}/")
    page.get_by_role("link", name="Start new phase").click()
    assert_page_is_sound(page)
    page.get_by_label("Reason").fill("Valve rebuilt, not recorded then")
    page.get_by_role("button", name="Start new phase").click()
    expect(page).to_have_url(re.compile(rf"/trends/points/{point}/$"))
    expect(page.get_by_text("restarted: Valve rebuilt").first).to_be_visible()


def bad_point_of(vessel: str) -> int:
    return SamplingPoint.objects.get(vessel__name=vessel, order=1).pk


def user_named(name: str) -> User:
    return User.objects.get(full_name=name)

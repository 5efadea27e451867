"""A bridge study in a browser, from the first pair to the signature, and the meter's charts."""

import random
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.atp.bridges import actions as bridge_actions
from brewhygiene.atp.bridges.actions import PairValues
from brewhygiene.atp.models.bridges import Bridge
from brewhygiene.atp.models.limits import LimitSet
from brewhygiene.atp.models.meters import ControlCheck
from tests import clock
from tests.atp.bridges.scenes import Study, pairs
from tests.factories import PASSWORD, Cellar, acting

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def study() -> Study:
    cellar = Cellar(name="Quenlarrow & Ombry Brewery (invented)")
    cellar.meter.name = "Cellar meter"
    cellar.meter.save()
    study = Study(now=clock.now(), cellar=cellar)
    study.add([PairValues(12, None), PairValues(14, 90)])
    bridge_actions.exclude_pair(
        by=acting(cellar.brewer, now=study.now),
        pair=study.bridge.pairs.latest("pk"),
        reason="A touched tip on the second swab",
    )
    drifting(study)
    return study


def drifting(study: Study) -> None:
    """A year's worth of checks of the old meter, the positive control sinking at the end."""
    chance = random.Random(3)
    ControlCheck.objects.bulk_create(
        ControlCheck(
            meter=study.cellar.meter,
            checked_at=study.now - timedelta(days=70 - day),
            checked_on=(study.now - timedelta(days=70 - day)).date(),
            blank_rlu=chance.choice((0, 1, 1, 2)),
            positive_rlu=round(chance.gauss(230, 12) * 0.99 ** max(0, day - 35)),
            passed=day != 50,
            checked_by=study.cellar.hand,
            note="New control opened" if day == 20 else "",
        )
        for day in range(70)
    )


def drawn(page: Page) -> None:
    """Focus what the server drew, and wait until every figure is a chart."""
    page.evaluate("document.querySelectorAll('.figure-drawing').forEach((each) => each.focus())")
    expect(page.locator("[data-drawn]")).to_have_count(page.locator("[data-figure]").count())


def test_pages_are_sound_at_every_size(
    study: Study, open_page: Any, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    page = open_page(user=study.cellar.brewer, size=size)
    one = [study.bridge.pk]
    for name, args, floor in (
        ("atp:bridges", [], False),
        ("atp:open_bridge", [], False),
        ("atp:bridge", one, False),
        ("atp:add_bridge_pair", one, True),
        ("atp:paste_bridge_pairs", one, False),
        ("atp:exclude_bridge_pair", [*one, study.bridge.pairs.earliest("pk").pk], False),
        ("atp:propose_bridged_limits", [*one, study.cellar.limits.pk], False),
        ("atp:approve_bridge", one, False),
        ("atp:retire_bridge", one, False),
        ("trends:meter", [study.cellar.meter.pk], False),
        ("trends:meter", [study.new_meter.pk], False),
        ("atp:meters", [], True),
        ("atp:setup_meters", [], False),
        ("atp:setup_limits", [], False),
    ):
        page.goto(reverse(name, args=args))
        drawn(page)
        assert_page_is_sound(page, floor=floor)


def test_pages_that_refuse_are_sound(
    study: Study, open_page: Any, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    page = open_page(user=study.cellar.brewer, size=size, dark=True)
    study.add([PairValues(12, 9_000_000)])
    page.goto(reverse("atp:bridge", args=[study.bridge.pk]))
    assert page.locator(".notice-warning").inner_text().startswith("Limits cannot be converted")
    drawn(page)
    assert_page_is_sound(page)
    page.goto(reverse("atp:paste_bridge_pairs", args=[study.bridge.pk]))
    page.get_by_label("Pairs").fill("12 9\n7\nten 9")
    page.get_by_role("button", name="Add pairs").click()
    page.locator(".error").first.wait_for()
    assert page.locator(".error").all_inner_texts() == [
        "No pair was added. Correct these lines:",
        "Line 2, “7”: enter a second number, or a dash for a missing reading.",
        "Line 3, “ten 9”: “ten” is not a whole number. Enter digits only, e.g. 12.",
    ]
    assert_page_is_sound(page)


def test_whole_way_from_pairs_to_the_signature(open_page: Any) -> None:
    """Opened by the head brewer, filled on the tablet and from a sheet, proposed and signed."""
    study = Study(count=0, now=clock.now())
    cellar = study.cellar
    bridge_actions.retire_bridge(by=acting(cellar.brewer), bridge=study.bridge, password=PASSWORD)
    page = open_page(user=cellar.brewer)
    page.goto(reverse("atp:bridges"))
    page.get_by_role("link", name="Start bridge study").click()
    had = page.get_by_role("group", name="Reference scale, with limits")
    had.get_by_label("Meter").select_option(label=cellar.meter.name)
    had.get_by_label("ATP test").select_option(label=cellar.atp_test.name)
    new = page.get_by_role("group", name="New scale")
    new.get_by_label("Meter").select_option(label="New meter")
    new.get_by_label("ATP test").select_option(label=cellar.atp_test.name)
    page.get_by_role("button", name="Start bridge study").click()
    page.get_by_role("heading", name=f"{cellar.meter.name} and New meter").wait_for()
    bridge = Bridge.objects.latest("pk")

    hand = open_page(user=cellar.hand)
    hand.goto(reverse("atp:bridge", args=[bridge.pk]))
    hand.get_by_role("link", name="Add pair").click()
    pad = hand.get_by_role("group", name="Number pad")
    hand.get_by_label(cellar.meter.name).click()
    for digit in "14":
        pad.get_by_role("button", name=digit).click()
    hand.get_by_label("New meter").click()
    pad.get_by_role("button", name="9").click()
    hand.get_by_role("button", name="Record pair").click()
    hand.locator(".notice").wait_for()
    assert hand.locator(".notice").inner_text() == "Pair recorded: 14 and 9 RLU."
    hand.get_by_role("link", name="Open bridge study").click()
    assert "19 more" in hand.locator(".notice-warning").inner_text()
    hand.get_by_role("link", name="Paste pairs").click()
    sheet = "\n".join(f"{one.reference_rlu}\t{one.new_rlu}" for one in pairs())
    hand.get_by_label("Pairs").fill(sheet)
    hand.get_by_role("button", name="Add pairs").click()
    assert hand.locator(".notice-success").inner_text() == "40 pairs added."

    page.reload()
    page.get_by_role("link", name="Propose limits").click()
    page.get_by_label("Lower end of the intervals").check()
    page.get_by_role("button", name="Propose limits").click()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Approve limits").click()
    page.get_by_role("heading", name="Limits", exact=True).wait_for()
    limits = LimitSet.objects.get(source="bridge")
    assert limits.approved_at is not None
    assert (limits.bridge, limits.figures["choice"]) == (bridge, "careful")

    page.goto(reverse("atp:bridge", args=[bridge.pk]))
    page.get_by_role("link", name="Approve bridge").click()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Approve bridge").click()
    page.get_by_role("link", name="Retire bridge").wait_for()
    bridge.refresh_from_db()
    assert bridge.log_slope == pytest.approx(1, abs=0.1)


def test_study_is_read_without_script(study: Study, open_page: Any) -> None:
    page = open_page(user=study.cellar.owner, java_script_enabled=False)
    page.goto(reverse("atp:bridge", args=[study.bridge.pk]))
    assert page.locator(".figure-drawing svg:visible").count() == 2
    assert page.locator("#bridge-pairs tbody tr").count() == 41


def test_drifting_meter_is_found_from_the_meters_page(study: Study, open_page: Any) -> None:
    page = open_page(user=study.cellar.hand, size="phone")
    page.goto(reverse("atp:meters"))
    card = page.get_by_role("region", name="Cellar meter")
    assert card.locator(".drift").inner_text().startswith("Drifting\nPositive control reads lower")
    card.get_by_role("link", name="Control checks over time").click()
    assert page.locator("h1").inner_text() == "Cellar meter"
    assert page.locator(".page-about").inner_text() == "Control checks"
    assert "less light than it did" in page.locator(".notice-warning").inner_text()

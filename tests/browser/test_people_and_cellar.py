"""Signing in, changing hands and the cellar's set-up in a browser, at three sizes."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from brewhygiene.cellar.models import Vessel
from brewhygiene.cellar.points import actions as point_actions
from brewhygiene.cellar.vessels import actions
from brewhygiene.people.actions import set_own_pin
from tests.factories import PASSWORD, Cellar, acting, make_beer, make_vessel

pytestmark = pytest.mark.django_db(transaction=True)
PIN = "5093"


@pytest.fixture
def cellar() -> Cellar:
    """A brewery with long names, a vessel out of service, a bare one and a retired point."""
    cellar = Cellar(name="Quenlarrow & Ombry Brewery (invented)", is_demo=True, points=2)
    by = acting(cellar.brewer)
    make_beer(
        name="Tolvenhythe Twice-Hopped Wild Yarrimelle Custard Pembraille (invented)",
        sour_or_mixed=True,
        diastatic=True,
        fruit_or_heavy_hops=True,
        allergen="lactose, oats and gluten",
        strict_before=True,
    )
    out = make_vessel(name="Fermenter number three behind the mill")
    actions.take_out_of_service(by=by, vessel=out, reason="Weld at the racking arm cracked")
    make_vessel(name="BT 1", kind="bright_tank", points=0)
    point_actions.retire_point(by=by, point=cellar.vessel.points.get(order=1), password=PASSWORD)
    set_own_pin(by=acting(cellar.hand), new_pin=PIN, password=PASSWORD)
    return cellar


def addresses(cellar: Cellar) -> list[tuple[str, bool]]:
    """Every page of these rooms; ``True`` for those used with gloves."""
    out = Vessel.objects.get(out_of_service_since__isnull=False)
    bare = Vessel.objects.get(name="BT 1")
    pages = [
        ("people:pin", [], False),
        ("people:own_password", [], False),
        ("people:list", [], False),
        ("people:add", [], False),
        ("people:edit", [cellar.hand.pk], False),
        ("people:password", [cellar.hand.pk], False),
        ("setup:index", [], False),
        ("setup:release_rules", [], False),
        ("brewery:edit", [], False),
        ("cellar:vessels", [], False),
        ("cellar:vessel_add", [], False),
        ("cellar:vessel", [cellar.vessel.pk], False),
        ("cellar:vessel", [out.pk], False),
        ("cellar:vessel", [bare.pk], False),
        ("cellar:vessel_edit", [cellar.vessel.pk], False),
        ("cellar:out_of_service", [cellar.vessel.pk], False),
        ("cellar:back_in_service", [out.pk], False),
        ("cellar:vessel_remove", [cellar.vessel.pk], False),
        ("cellar:point_add", [cellar.vessel.pk], False),
        ("cellar:point_edit", [cellar.point.pk], False),
        ("cellar:beers", [], False),
        ("cellar:beer_add", [], False),
        ("cellar:hold_times", [], False),
        ("people:tablets", [], False),
        ("people:switch", [], True),
    ]
    return [(reverse(name, args=args), floor) for name, args, floor in pages]


def test_every_page_is_sound(
    open_page: Any, assert_page_is_sound: Callable[..., None], cellar: Cellar, size: str
) -> None:
    page = open_page(user=cellar.brewer, size=size)
    for address, floor in addresses(cellar):
        page.goto(address)
        assert_page_is_sound(page, floor=floor)
    page.goto(f"{reverse('people:switch')}?person={cellar.hand.pk}")
    assert_page_is_sound(page, floor=True)


def test_pages_are_sound_in_the_dark(
    open_page: Any, assert_page_is_sound: Callable[..., None], cellar: Cellar
) -> None:
    page = open_page(user=cellar.brewer, dark=True)
    for name in ("setup:index", "cellar:vessels", "cellar:hold_times", "people:list"):
        page.goto(reverse(name))
        assert_page_is_sound(page)


def test_pages_of_nobody_are_sound(
    open_page: Any, assert_page_is_sound: Callable[..., None], cellar: Cellar, size: str
) -> None:
    page = open_page(size=size)
    page.goto("/sign-in/")
    assert_page_is_sound(page, floor=True)


def test_first_start_leads_to_the_set_up(
    open_page: Any, assert_page_is_sound: Callable[..., None]
) -> None:
    page = open_page()
    page.goto("/")
    expect(page).to_have_url(re.compile("/first/$"))
    assert_page_is_sound(page)
    page.get_by_label("Name of the brewery").fill("Quenlarrow & Ombry (invented)")
    page.get_by_label("Time zone").select_option("Europe/Berlin")
    page.get_by_label("Your full name").fill("Mara Oduya")
    page.get_by_label("Your initials").fill("MO")
    page.get_by_label("Sign-in name").fill("mara")
    page.get_by_label("Password", exact=True).fill("copper-kettle")
    page.get_by_label("Repeat new password").fill("copper-kettle")
    page.get_by_role("button", name="Create brewery").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Set-up")
    expect(page.get_by_text("No vessel yet.").first).to_be_visible()
    assert_page_is_sound(page)


def test_refused_forms_are_sound(
    open_page: Any, assert_page_is_sound: Callable[..., None], cellar: Cellar, size: str
) -> None:
    page = open_page(user=cellar.brewer, size=size)
    page.goto(reverse("cellar:vessel_add"))
    page.get_by_label("Volume").fill("-5")
    page.get_by_label("Diameter").fill("abc")
    page.get_by_label("Note").fill("By the door")
    page.get_by_role("button", name="Add vessel").click()
    expect(page.get_by_text("-5 hL is too low")).to_be_visible()
    expect(page.get_by_label("Note")).to_have_value("By the door")
    assert_page_is_sound(page)
    page.goto(reverse("cellar:hold_times"))
    page.get_by_label("keg, clean-hold, hours").fill("a day")
    page.get_by_role("button", name="Save hold times").click()
    expect(page.get_by_text("is not a number")).to_be_visible()
    assert_page_is_sound(page)


def test_tablet_changes_hands_with_the_pad(
    open_page: Any, assert_page_is_sound: Callable[..., None], cellar: Cellar
) -> None:
    page = open_page()
    page.goto("/sign-in/")
    page.get_by_label("Sign-in name").fill(cellar.brewer.username)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Change person")
    assert_page_is_sound(page, floor=True)
    page.get_by_role("link", name="Jonas Feld").click()
    pad = page.get_by_role("group", name="Number pad")
    for digit in PIN:
        pad.get_by_role("button", name=digit, exact=True).click()
    page.get_by_role("button", name="Sign in with PIN").click()
    expect(page.locator(".who-name")).to_contain_text("Jonas Feld")


def test_usual_points_are_added_with_the_password(open_page: Any, cellar: Cellar) -> None:
    bare = Vessel.objects.get(name="BT 1")
    page = open_page(user=cellar.brewer)
    page.goto(reverse("cellar:vessel", args=[bare.pk]))
    page.get_by_role("link", name="Add Last rinse at the outlet").click()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Add sampling point").click()
    expect(page.get_by_text("Last rinse at the outlet added.")).to_be_visible()
    page.get_by_role("link", name="Add Sight glass").click()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Add sampling point").click()
    expect(page.get_by_role("row")).to_have_count(3)
    assert list(bare.points.values_list("name", flat=True)) == [
        "Last rinse at the outlet",
        "Sight glass",
    ]

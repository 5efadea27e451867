"""Plates counted dish by dish, and ATP against plates, in a browser."""

import random
import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from brewhygiene.brewery import actions as brewery_actions
from brewhygiene.plates import actions as plate_actions
from brewhygiene.plates.models import Plate
from brewhygiene.science.counting.colonies import Dish
from tests import clock
from tests.board.scenes import HOUR, MINUTE, Now
from tests.browser.conftest import Opened
from tests.factories import PASSWORD, acting, make_limits, make_meter, make_point, make_vessel
from tests.histories import Swab, make_history

pytestmark = pytest.mark.django_db(transaction=True)
DAY = 24 * HOUR


@pytest.fixture
def cellar(transactional_db: None) -> Now:
    cellar = Now()
    cellar.vessel.name = "FV 1"
    cellar.vessel.save()
    return cellar


def grown(cellar: Now) -> Plate:
    """A plate that is due, of a vessel that was filled after it was taken."""
    turnaround = cellar.released_ago(9 * DAY)
    cellar.filled(turnaround, now=cellar.at(9 * DAY - HOUR / 2), batch="P-12")
    return cellar.plate_sent(turnaround, ago=9 * DAY - HOUR)


def read(cellar: Now, plate: Plate, *dishes: Dish) -> Plate:
    return plate_actions.read_plate(
        by=acting(cellar.brewer, now=cellar.now), plate=plate, dishes=dishes
    )


def tap(page: Page, label: str, *signs: str) -> None:
    """A number on the pad of the screen, with a glove."""
    page.locator(".dish").first.get_by_label(label).focus()
    for sign in signs:
        page.locator(".pad").get_by_role("button", name=sign, exact=True).click()


def with_history(cellar: Now) -> None:
    """Sixty weeks of plates, that grow the more likely the higher the reading."""

    def rlu(swab: Swab) -> int:
        return int(random.Random(swab.turn.number).lognormvariate(2.2, 1.1))

    def plate(swab: Swab) -> str:
        chance = random.Random(1000 + swab.turn.number).random()
        return "positive" if chance < min(0.9, rlu(swab) / 80) else "negative"

    make_history(
        cellar=cellar,
        cleans=60,
        every=6 * DAY,
        until=clock.now() - 12 * DAY,
        rlu=rlu,
        plate=plate,
    )
    brewery_actions.edit_prices(
        by=acting(cellar.brewer), missed_tank_cost=4000, needless_clean_cost=60
    )


def test_dishes_are_counted_on_the_pad_and_become_cfu(cellar: Now, open_page: Opened) -> None:
    plate = grown(cellar)
    page = open_page(user=cellar.brewer)
    page.goto("/plates/")
    page.get_by_role("link", name="Read plate FV 1, Point 1").click()
    page.get_by_label("Positive: colonies").check()
    tap(page, "Colonies", "4", "1")
    tap(page, "Volume plated", "1", "Decimal point", "5")
    page.get_by_text("More dishes").click()
    second = page.locator(".dish", has=page.locator("#id_colonies_2"))
    second.get_by_label("Too many to count").check()
    second.get_by_label("Volume plated").fill("15")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".grown > span").first).to_have_text("27 CFU per mL (20 to 37)")
    expect(page.get_by_role("button", name="Source of the count")).to_be_visible()
    expect(page.get_by_text("1 dish with too many to count excluded.")).to_be_visible()
    expect(page.get_by_text("FV 1 is held until this plate is closed.")).to_be_visible()
    expect(page.get_by_text("Harrow Pale (invented) P-12")).to_be_visible()
    assert list(plate.dishes.values_list("volume_ml", "colonies")) == [(1.5, 41), (15, None)]


def test_plate_is_read_without_script(cellar: Now, open_page: Opened) -> None:
    plate = grown(cellar)
    page = open_page(user=cellar.brewer, java_script_enabled=False)
    page.goto(f"/plates/{plate.pk}/read/")
    page.get_by_label("Negative: no growth").check()
    page.locator("#id_volume_ml").fill("100")
    page.get_by_text("More dishes").click()
    page.get_by_role("button", name="Add dishes").click()
    expect(page.locator(".dish")).to_have_count(8)
    expect(page.locator("#id_volume_ml")).to_have_value("100")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".grown")).to_have_text(
        "none found in 100 mL: below 0.03 CFU per mL with 95 % confidence"
    )


def test_misread_plate_is_put_right_under_a_signature(cellar: Now, open_page: Opened) -> None:
    plate = read(cellar, grown(cellar), Dish(1, 1, 35))
    page = open_page(user=cellar.brewer)
    page.goto(f"/plates/{plate.pk}/")
    page.get_by_role("link", name="Correct plate").click()
    page.get_by_label("Negative: no growth").check()
    page.locator("#id_colonies").fill("")
    page.get_by_label("Reason for the correction").fill("The dish of FV 7")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Save correction").click()
    expect(page.get_by_text("Correction saved. The first reading stays on record.")).to_be_visible()
    expect(page.locator(".grown")).to_have_text(
        "none found in 1 mL: below 3 CFU per mL with 95 % confidence"
    )
    expect(page.get_by_text("35 colonies").first).to_be_visible()


def test_costs_move_the_cut_off(cellar: Now, open_page: Opened) -> None:
    with_history(cellar)
    page = open_page(user=cellar.owner)
    page.goto("/plates/")
    page.get_by_role("link", name="ATP against plates").click()
    expect(page.get_by_text("At 4000 EUR for a dirty vessel filled")).to_be_visible()
    page.get_by_label("Cost of a dirty vessel filled").fill("80")
    page.get_by_label("Cost of a needless re-clean").fill("75")
    page.get_by_role("button", name="Calculate").click()
    expect(page.get_by_text("At 80 EUR for a dirty vessel filled and 75 EUR")).to_be_visible()
    page.get_by_role("region", name="Disagreements").get_by_role("link").first.click()
    expect(page).to_have_url(re.compile("/turnarounds/"))


@pytest.mark.parametrize("dark", [False, True])
def test_plate_counts_are_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str, dark: bool
) -> None:
    plate = grown(cellar)
    make_point(cellar.vessel, sample_kind="surface", area_cm2=25, name="Manway gasket", order=3)
    page = open_page(user=cellar.brewer, size=size, dark=dark)
    page.goto(f"/plates/{plate.pk}/read/")
    page.get_by_text("More dishes").click()
    assert_page_is_sound(page, floor=True)
    page.locator("#id_colonies").fill("many")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".errors")).to_be_visible()
    assert_page_is_sound(page, floor=True)
    read(cellar, plate, Dish(1, 1, 35), Dish(10, 1, 4))
    for address in ("", "correct/", "close/"):
        page.goto(f"/plates/{plate.pk}/{address}")
        assert_page_is_sound(page, floor=True)
    page.goto("/plates/")
    assert_page_is_sound(page, floor=True)
    turnaround = cellar.emptied(now=cellar.at(HOUR))
    page.goto(f"/turnarounds/{turnaround.pk}/plates/send/")
    assert_page_is_sound(page, floor=True)


@pytest.mark.parametrize("dark", [False, True])
def test_atp_against_plates_is_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str, dark: bool
) -> None:
    page = open_page(user=cellar.owner, size=size, dark=dark)
    page.goto("/trends/plates/")
    assert_page_is_sound(page, floor=True)
    with_history(cellar)
    page.reload()
    assert_page_is_sound(page, floor=True)
    cellar.meter = make_meter()
    make_limits(by=cellar.brewer, meter=cellar.meter, atp_test=cellar.atp_test)
    turnaround = cellar.cleaned_ago(9 * DAY, vessel=make_vessel())
    cellar.sampled_ago(turnaround, 9 * DAY - 30 * MINUTE, rlu=41)
    read(cellar, cellar.plate_sent(turnaround, ago=9 * DAY - HOUR), Dish(1, 100, 0))
    page.goto(f"/trends/plates/?scale={cellar.meter.pk}-{cellar.atp_test.pk}&missed=x")
    expect(page.get_by_text("No curve and no cut-off.")).to_be_visible()
    assert_page_is_sound(page, floor=True)

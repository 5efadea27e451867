"""The batch and its yeast in a browser: a positive plate splits, each hold is decided by itself."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from brewhygiene.batches.models.batches import Batch, YeastCrop
from brewhygiene.batches.models.holds import Hold
from brewhygiene.batches.models.lots import Lot, RecallDrill
from brewhygiene.batches.models.movements import Movement
from brewhygiene.cellar.models import Fill
from tests import clock
from tests.batches.scenes import HOUR, Brewhouse
from tests.batches.test_holds import grown
from tests.browser.conftest import Opened
from tests.factories import PASSWORD

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def house(transactional_db: None) -> Brewhouse:
    return Brewhouse(began=clock.now() - 131 * HOUR)


def test_pages_of_a_positive_plate_are_sound(
    house: Brewhouse,
    open_page: Opened,
    assert_page_is_sound: Callable[..., None],
    size: str,
) -> None:
    plate = grown(house)
    batch, crop = Batch.objects.get(number="B1"), YeastCrop.objects.get(number="Y-1")
    lot = Lot.objects.get()
    page = open_page(user=house.brewer, size=size)
    for address in (
        f"/plates/{plate.pk}/trace/",
        f"/holds/{Hold.objects.get(batch=batch).pk}/",
        f"/batches/{batch.pk}/",
        f"/crops/{crop.pk}/",
        f"/packaged-lots/{lot.pk}/",
        "/batches/",
        "/find/?q=1",
    ):
        page.goto(address)
        assert_page_is_sound(page)


def test_floor_pages_of_a_batch_are_sound(
    house: Brewhouse,
    open_page: Opened,
    assert_page_is_sound: Callable[..., None],
    size: str,
) -> None:
    grown(house)
    page = open_page(user=house.hand, size=size)
    for act in ("transfer", "package", "pitch", "crop", "dry-hop"):
        page.goto(f"/vessels/{house.bt.pk}/{act}/")
        assert_page_is_sound(page, floor=True)


def test_each_hold_is_decided_by_itself_and_the_vessel_stays_held(
    house: Brewhouse, open_page: Opened
) -> None:
    plate = grown(house)
    page = open_page(user=house.brewer)
    page.goto(f"/plates/{plate.pk}/")
    page.get_by_role("link", name="Open trace").click()
    ranks = page.locator("main section h2")
    expect(ranks.nth(0)).to_contain_text("1. The beer")
    expect(ranks.nth(1)).to_contain_text("2. Its yeast")
    expect(ranks.nth(2)).to_contain_text("3. Equipment not cleaned since")
    expect(ranks.nth(3)).to_contain_text("4. Equipment cleaned since")
    expect(page.locator("section:has(#beer)")).to_contain_text("BT one since")
    expect(page.locator("section:has(#yeast)")).to_contain_text("YV one")
    expect(page.locator("section:has(#not-cleaned)")).to_contain_text("HX one")
    expect(page.get_by_text("4 decisions still open")).to_be_visible()
    page.get_by_role("link", name="Decide hold of yeast crop Y-1").click()
    page.get_by_label("destroy").check()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Sign as Mara Oduya").click()
    expect(page.locator("#id_reason_error")).to_have_text("Enter a reason.")
    expect(page.get_by_label("destroy")).to_be_checked()
    page.get_by_label("Reason").fill("Dumped")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Sign as Mara Oduya").click()
    page.wait_for_url(f"**/plates/{plate.pk}/trace/")
    expect(page.get_by_text("3 decisions still open")).to_be_visible()
    expect(page.locator("section:has(#yeast)")).to_contain_text("Signed by Mara Oduya")
    page.goto(f"/vessels/{house.fv.pk}/")
    expect(page.locator(".now")).to_contain_text("Positive plate")


def test_transfer_into_a_vessel_that_is_not_released_is_refused_beside_it(
    house: Brewhouse, open_page: Opened
) -> None:
    house.brewed("B1", 100)
    house.emptied(vessel=house.bt, now=house.at(130), beer=None)
    page = open_page(user=house.hand, size="phone")
    page.goto(f"/vessels/{house.fv.pk}/")
    page.get_by_role("link", name="Record transfer").click()
    page.get_by_label("To", exact=True).select_option(label="BT one, empty")
    page.get_by_label("Volume that arrived", exact=True).fill("18,5")
    page.get_by_text("Hoses, heat exchanger, filler").click()
    page.get_by_label("Hose one").check()
    page.get_by_role("button", name="Record transfer").click()
    expect(page.locator("#id_to_vessel_error")).to_contain_text("BT one is not released")
    expect(page.get_by_label("Volume that arrived", exact=True)).to_have_value("18,5")
    expect(page.get_by_label("Hose one")).to_be_checked()
    assert (Movement.objects.filter(kind="transfer").count(), Fill.objects.count()) == (0, 1)


def test_number_is_found_from_anywhere_at_a_desk_and_on_a_phone(
    house: Brewhouse, open_page: Opened
) -> None:
    batch = house.brewed("26-777", 100)
    desk = open_page(user=house.owner, size="desk")
    desk.goto("/plates/")
    desk.locator(".masthead > .find input").fill("26-777")
    desk.keyboard.press("Enter")
    desk.wait_for_url(f"**/batches/{batch.pk}/")
    phone = open_page(user=house.hand, size="phone")
    phone.goto("/sample/")
    phone.get_by_role("button", name="Menu").click()
    phone.locator("#menu input").fill("777")
    phone.locator("#menu").get_by_role("button", name="Find").click()
    expect(phone.get_by_role("link", name="26-777")).to_be_visible()


def test_recall_drill_from_lot_to_customers_and_back(house: Brewhouse, open_page: Opened) -> None:
    grown(house)
    lot = Lot.objects.get()
    page = open_page(user=house.brewer)
    page.goto(f"/packaged-lots/{lot.pk}/")
    page.get_by_role("button", name="Begin recall drill").click()
    expect(page.get_by_text("The drill has begun.")).to_be_visible()
    page.locator("section:has(#drills)").get_by_role("link").click()
    expect(page.locator("section:has(#forward)")).to_contain_text(
        "The Ninth Lantern (invented), 4 units"
    )
    expect(page.locator("section:has(#back)")).to_contain_text("Hose one")
    page.get_by_label("Units counted in stock").fill("40")
    page.get_by_label("Units lost, broken or dumped").fill("5")
    page.get_by_role("button", name="End drill").click()
    expect(page.locator("#id_explanation_error")).to_contain_text("1 unit missing")
    page.get_by_label("Where the difference comes from").fill("Miscounted")
    page.get_by_role("button", name="End drill").click()
    expect(page.get_by_text("The drill has ended.")).to_be_visible()
    assert RecallDrill.objects.get().found["units"]["difference"] == 1

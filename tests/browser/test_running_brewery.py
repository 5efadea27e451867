"""A head brewer sets up a brewery whose tanks are full, without one false entry."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from brewhygiene.batches.models.batches import Batch
from brewhygiene.cellar.models import Emptying, Fill, Vessel
from brewhygiene.ledger.adoption import bind_unbound
from brewhygiene.ledger.check.whole import check_everything
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import Clean, Turnaround
from brewhygiene.turnarounds.models.starts import VesselStart
from tests import clock
from tests.factories import PASSWORD, Cellar, make_vessel

pytestmark = pytest.mark.django_db(transaction=True)
MARK = "before this record began"
SIGNER = "R. Vane (invented)"


@pytest.fixture
def cellar() -> Cellar:
    cellar = Cellar()
    Vessel.objects.all().update(name="FV 1")
    for number in (10, 2, 3):
        make_vessel(name=f"FV {number}")
    make_vessel(name="BT 1", kind="bright_tank")
    make_vessel(name="Hose 1", kind="hose_set", diameter_m=None)
    bind_unbound(now=clock.now())
    return cellar


def set_up(page: Page, cellar: Cellar) -> None:
    """From the set-up's list to the page, and each vessel as it stands."""
    page.goto("/set-up/")
    page.get_by_role("link", name="Vessels as they stand").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Vessels as they stand")
    names = page.locator(".start-name").all_inner_texts()
    assert names == ["BT 1", "FV 1", "FV 2", "FV 3", "FV 10", "Hose 1"]
    for name, batch, days in (("FV 1", "26-031", 9), ("FV 10", "", 40)):
        beer = page.get_by_label(f"{name}, beer")
        expect(beer).to_be_hidden()
        page.get_by_label(f"{name}, stands").select_option("contains beer")
        beer.select_option(cellar.pale.name)
        page.get_by_label(f"{name}, batch").fill(batch)
        page.get_by_label(f"{name}, volume").fill("20")
        since = clock.today() - timedelta(days=days)
        page.get_by_label(f"{name}, since").fill(since.isoformat())
    page.get_by_label("FV 2, stands").select_option("empty, not clean")
    page.get_by_label("BT 1, stands").select_option("clean, released on paper")
    on_paper = timezone.localtime(clock.now() - timedelta(hours=1))
    page.get_by_label("BT 1, time on the paper").fill(on_paper.strftime("%Y-%m-%dT%H:%M"))


def test_running_brewery_is_on_record_without_one_false_entry(
    open_page: Any, assert_page_is_sound: Callable[..., None], cellar: Cellar, size: str
) -> None:
    page = open_page(user=cellar.brewer, size=size)
    set_up(page, cellar)
    assert_page_is_sound(page)
    # A paper without a name is refused, and nothing that was typed is lost.
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Put on record").click()
    expect(page.get_by_text("Enter whose name stands on the paper.")).to_be_visible()
    expect(page.get_by_label("FV 1, batch")).to_have_value("26-031")
    assert not VesselStart.objects.exists()
    assert_page_is_sound(page)
    page.get_by_label("BT 1, name on the paper").fill(SIGNER)
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Put on record").click()
    expect(page.get_by_text("4 vessels put on record.")).to_be_visible()
    # FV 3 and the hose are left for another day.
    assert page.locator(".start-name").all_inner_texts() == ["FV 3", "Hose 1"]
    assert_page_is_sound(page)

    # Nothing stands on record that nobody saw: no clean, no decision, no reading of a clock.
    assert list(Fill.objects.values_list("vessel__name", "before_record").order_by("pk")) == [
        ("FV 1", True),
        ("FV 10", True),
    ]
    assert not Clean.objects.exists()
    assert not Decision.objects.exists()
    starts = [turnaround.start.vessel.name for turnaround in Turnaround.objects.all()]
    assert sorted(starts) == ["BT 1", "FV 2"]
    assert Emptying.objects.count() == 2
    assert [batch.before_record for batch in Batch.objects.all()] == [True]
    assert list(check_everything()) == []

    # The board says of each how it stands, and that nobody recorded it here.
    page.goto("/")
    for name, words in (
        ("FV 1", f"26-031, {MARK}"),
        ("FV 10", MARK),
        ("FV 2", f"Waiting to be cleaned, emptied {MARK}"),
        ("BT 1", f"Signed on paper by {SIGNER}, {MARK}"),
        ("FV 3", "Not on record yet"),
    ):
        card = page.locator(".vessel-card").filter(
            has=page.get_by_role("link", name=name, exact=True)
        )
        expect(card).to_contain_text(words)

    # Emptying the full one begins a turnaround as any other, and its beer keeps the mark.
    page.get_by_role("link", name="Record emptying FV 10").click()
    expect(page.get_by_text(f"batch not known, {MARK}")).to_be_visible()
    page.get_by_role("button", name="Record emptying").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Turnaround of FV 10")
    expect(page.get_by_text(f"batch not known, {MARK}").first).to_be_visible()
    assert Turnaround.objects.filter(vessel__name="FV 10", emptying__fill__before_record=True)

"""The release room and the plates in a browser."""

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from brewhygiene.plates.models import Plate
from brewhygiene.release.models import Decision
from tests import clock
from tests.board.scenes import HOUR, MINUTE, Now, crowd
from tests.browser.conftest import Opened
from tests.browser.waiting import let_it_ask
from tests.factories import PASSWORD, made_good, make_point, make_vessel

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def cellar(transactional_db: None) -> Now:
    cellar = Now()
    cellar.vessel.name = "FV 1"
    cellar.vessel.save()
    return cellar


def test_decide_with_a_wrong_and_then_the_right_password(cellar: Now, open_page: Opened) -> None:
    turnaround = cellar.to_decide(rlu=20)
    page = open_page(user=cellar.brewer)
    page.goto("/release/")
    page.get_by_role("link", name="Hold or release FV 1").click()
    page.get_by_label("Release FV 1").check()
    page.get_by_label("Cause for “Alerts explained”").select_option(label="New or changed part")
    page.get_by_label("What was checked for “Alerts explained”").fill("Drift chart of this point")
    page.get_by_label("Result for “Alerts explained”").fill("Known drift of the new gasket")
    page.get_by_label("Your password").fill("not-it")
    page.get_by_role("button", name="Sign as Mara Oduya").click()
    expect(page.locator("#id_password_error")).to_have_text(
        "This is not your password. Nothing was signed."
    )
    expect(page.get_by_label("Release FV 1")).to_be_checked()
    expect(page.get_by_label("Cause for “Alerts explained”")).to_have_value("new_part")
    expect(page.get_by_label("What was checked for “Alerts explained”")).to_have_value(
        "Drift chart of this point"
    )
    expect(page.get_by_label("Result for “Alerts explained”")).to_have_value(
        "Known drift of the new gasket"
    )
    expect(page.get_by_label("Your password")).to_have_value("")
    assert Decision.objects.count() == 0
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Sign as Mara Oduya").click()
    page.wait_for_url(f"**/turnarounds/{turnaround.pk}/")
    expect(page.get_by_text("FV 1 is released until")).to_be_visible()
    expect(page.get_by_role("link", name="Record filling")).to_be_visible()
    assert Decision.objects.get().waivers == {
        "alerts": "New or changed part. Checked: Drift chart of this point. "
        "Result: Known drift of the new gasket."
    }


def test_queue_follows_by_itself(cellar: Now, open_page: Opened) -> None:
    page = open_page(user=cellar.brewer)
    page.goto("/release/")
    expect(page.get_by_text("Nothing to decide")).to_be_visible()
    cellar.to_decide()
    let_it_ask(page)
    row = page.get_by_role("link", name="Hold or release FV 1")
    expect(row).to_be_visible()
    expect(page.locator("#news")).to_have_text("FV 1: to decide.")


def test_fill_with_the_pad(cellar: Now, open_page: Opened) -> None:
    turnaround = cellar.released_ago()
    page = open_page(user=cellar.hand)
    page.goto(f"/turnarounds/{turnaround.pk}/")
    page.get_by_role("link", name="Record filling").click()
    page.get_by_label("Beer").select_option(label="Harrow Pale (invented)")
    page.get_by_label("Batch", exact=True).fill("P-12")
    page.get_by_label("Volume").focus()
    for sign in ("2", "5", "Decimal point", "5"):
        page.locator(".pad").get_by_role("button", name=sign, exact=True).click()
    page.get_by_role("button", name="Record filling").click()
    page.wait_for_url(f"**/vessels/{cellar.vessel.pk}/")
    expect(page.get_by_text("FV 1 is filled with Harrow Pale (invented), P-12.")).to_be_visible()
    expect(page.get_by_text("25.5 hL")).to_be_visible()


def test_a_late_positive_plate_holds_the_vessel_until_it_is_closed(
    cellar: Now, open_page: Opened
) -> None:
    turnaround = cellar.released_ago(200 * HOUR)
    cellar.filled(turnaround, now=cellar.at(199 * HOUR), batch="P-12")
    cellar.plate_sent(turnaround, ago=198 * HOUR)
    page = open_page(user=cellar.brewer)
    page.goto("/plates/")
    page.get_by_role("link", name="Read plate FV 1, Point 1").click()
    page.get_by_label("Positive: colonies").check()
    page.locator("#id_colonies").fill("12")
    page.get_by_role("button", name="Record reading").click()
    expect(page.get_by_text("FV 1 is held until this plate is closed.")).to_be_visible()
    expect(page.get_by_text("Harrow Pale (invented) P-12")).to_be_visible()
    page.get_by_role("link", name="Close plate").click()
    page.get_by_label("Measures taken").fill("Gasket renewed, batch in quarantine")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Close plate").click()
    expect(page.get_by_text("A re-clean is missing.").first).to_be_visible()
    page.goto("/")
    expect(page.locator(".vessel-card .flag")).to_have_text("held")
    # Strongly cleaned again, and a new plate read negative.
    made_good(Plate.objects.get(), now=clock.now())
    page.goto(f"/plates/{Plate.objects.earliest('pk').pk}/close/")
    page.get_by_role("radio").nth(0).check()
    page.get_by_label("No fault found").check()
    page.get_by_label("Finding").fill("Valve and gasket opened: clean")
    page.get_by_role("group", name="New plate").get_by_role("radio").first.check()
    page.get_by_label("Measures taken").fill("Gasket renewed, batch in quarantine")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Close plate").click()
    expect(page.get_by_text("Plate closed. It no longer holds FV 1.")).to_be_visible()


def test_queue_is_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    page = open_page(user=cellar.brewer, size=size)
    page.goto("/release/")
    assert_page_is_sound(page, floor=True)
    crowd(cellar, 11)
    page.reload()
    assert_page_is_sound(page, floor=True)


@pytest.mark.parametrize("dark", [False, True])
def test_decide_page_is_sound_empty_blocked_and_refused(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str, dark: bool
) -> None:
    make_point(cellar.vessel, name="Racking arm", order=1)
    uncleaned = cellar.emptied(now=cellar.at(HOUR), vessel=make_vessel())
    turnaround = cellar.cleaned_ago(HOUR)
    cellar.sampled_ago(turnaround, 30 * MINUTE, rlu=90)
    page = open_page(user=cellar.brewer, size=size, dark=dark)
    page.goto(f"/release/{uncleaned.pk}/")
    assert_page_is_sound(page)
    page.goto(f"/release/{turnaround.pk}/")
    assert_page_is_sound(page)
    page.get_by_role("button", name="Sign as Mara Oduya").click()
    expect(page.locator(".errors")).to_be_visible()
    assert_page_is_sound(page)


def test_fill_and_resanitise_are_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    turnaround = cellar.released_ago()
    lapsed = cellar.released_ago(6 * HOUR, vessel=make_vessel())
    page = open_page(user=cellar.brewer, size=size)
    page.goto(f"/turnarounds/{turnaround.pk}/fill/")
    assert_page_is_sound(page, floor=True)
    page.get_by_role("button", name="Record filling").click()
    expect(page.locator(".errors")).to_be_visible()
    assert_page_is_sound(page, floor=True)
    for address in ("fill", "re-sanitise", "fill-without-release"):
        page.goto(f"/turnarounds/{lapsed.pk}/{address}/")
        assert_page_is_sound(page, floor=True)
    page.goto(f"/turnarounds/{turnaround.pk}/re-sanitise/")
    expect(page.get_by_text("needs no re-sanitise yet")).to_be_visible()
    assert_page_is_sound(page, floor=True)


def test_plates_are_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    page = open_page(user=cellar.brewer, size=size)
    page.goto("/plates/")
    assert_page_is_sound(page, floor=True)
    positive = cellar.positive_plate()
    vessel = make_vessel(name="FV 2")
    turnaround = cellar.emptied(now=cellar.at(300 * HOUR), vessel=vessel)
    late = cellar.plate_sent(turnaround, ago=300 * HOUR)
    cellar.plate_read(cellar.plate_sent(turnaround, ago=300 * HOUR), "negative")
    for address in (
        "/plates/",
        f"/plates/{positive.pk}/",
        f"/plates/{positive.pk}/close/",
        f"/plates/{late.pk}/",
        f"/plates/{late.pk}/read/",
        f"/turnarounds/{turnaround.pk}/plates/send/",
    ):
        page.goto(address)
        assert_page_is_sound(page, floor=True)
    page.get_by_role("button", name="Send plate").click()
    expect(page.locator(".errors")).to_be_visible()
    assert_page_is_sound(page, floor=True)

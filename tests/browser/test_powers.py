"""One person cleaned, read 900 RLU against a limit of 60, typed "ok" twice and wants to release."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect

from brewhygiene.atp.meters.actions import record_control_check
from brewhygiene.release.models import Decision
from brewhygiene.turnarounds.models import Turnaround
from tests.board.scenes import HOUR, MINUTE, Now
from tests.browser.conftest import Opened
from tests.factories import (
    PASSWORD,
    acting,
    make_cellar_hand,
    make_head_brewer,
    make_limits,
)
from tests.reports.pdf.text import page_texts

pytestmark = pytest.mark.django_db(transaction=True)
TITLE = "“No reading over the action limit”"


@pytest.fixture
def cellar(transactional_db: None) -> Now:
    cellar = Now()
    cellar.vessel.name = "FV 1"
    cellar.vessel.save()
    make_limits(
        by=cellar.brewer,
        meter=cellar.meter,
        atp_test=cellar.atp_test,
        alert_rlu=30,
        action_rlu=60,
        now=cellar.at(48 * HOUR),
    )
    return cellar


def one_person(cellar: Now) -> Turnaround:
    """The head brewer cleans and samples alone."""
    hand, cellar.hand = cellar.hand, cellar.brewer
    turnaround = cellar.cleaned_ago(HOUR)
    cellar.sampled_ago(turnaround, 30 * MINUTE, rlu=900)
    cellar.hand = hand
    return turnaround


def explain(page: Page, *, checked: str, result: str) -> None:
    page.get_by_label(f"Cause for {TITLE}").select_option(
        label="Sampling error, e.g. a touched tip"
    )
    page.get_by_label(f"What was checked for {TITLE}").fill(checked)
    page.get_by_label(f"Result for {TITLE}").fill(result)


def test_900_rlu_is_refused_to_one_and_released_by_two_with_a_mark(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None]
) -> None:
    turnaround = one_person(cellar)
    page = open_page(user=cellar.brewer)
    page.goto(f"/release/{turnaround.pk}/")
    expect(page.get_by_label("Hold FV 1")).to_be_visible()
    expect(page.get_by_label("Release FV 1")).to_have_count(0)
    expect(page.get_by_text("Release is blocked:").first).to_be_visible()
    expect(
        page.get_by_text("Mara Oduya worked on this clean, and this brewery does not allow")
    ).to_be_visible()

    # Another head brewer and one of the cellar, on one tablet.
    ada = make_head_brewer(full_name="Ada Vance")
    make_cellar_hand(full_name="Ola Brant")
    page = open_page(user=ada)
    page.goto(f"/release/{turnaround.pk}/")
    page.get_by_label("Release FV 1").check()
    explain(page, checked="ok", result="ok")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Sign as Ada Vance").click()
    field = page.locator("#id_checked_nothing_over_action_error")
    expect(field).to_have_text("Enter at least three words that say what was done or seen.")
    expect(page.get_by_label(f"What was checked for {TITLE}")).to_have_value("ok")
    assert_page_is_sound(page)

    checked, result = "Valve taken apart and looked at", "Tip touched the bench, seat is clean"
    explain(page, checked=checked, result=result)
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Sign as Ada Vance").click()
    expect(page.locator("#id_second_signer_error")).to_have_text("Choose who signs second.")
    offered = page.get_by_label("Second signer", exact=True).locator("option")
    expect(offered).to_have_text(["Choose", "Jonas Feld", "Ola Brant"])

    page.get_by_label("Second signer", exact=True).select_option(label="Ola Brant")
    page.get_by_label("PIN or password of the second signer").fill("not-it")
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Sign as Ada Vance").click()
    expect(page.locator("#id_second_secret_error")).to_have_text(
        "This is not the PIN or password of Ola Brant. Nothing was signed."
    )
    expect(page.get_by_label(f"Result for {TITLE}")).to_have_value(result)
    assert Decision.objects.count() == 0

    page.get_by_label("PIN or password of the second signer").fill(PASSWORD)
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Sign as Ada Vance").click()
    page.wait_for_url(f"**/turnarounds/{turnaround.pk}/")
    mark = "Released over the action limit by two people, second signature Ola Brant"
    expect(page.get_by_text(mark)).to_be_visible()
    expect(page.get_by_text(f"Checked: {checked}. Result: {result}.")).to_be_visible()
    pdf = page.request.get(f"/turnarounds/{turnaround.pk}/record.pdf").body()
    paper = " ".join(" ".join(page_texts(pdf)).split())
    assert paper.count(mark) == 1
    assert f"Checked: {checked}. Result: {result}." in paper
    assert "Whoever cleaned or sampled cannot sign the release." in paper


def test_decision_with_a_second_signature_is_sound(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    make_cellar_hand(full_name="Ola Brant")
    turnaround = cellar.to_decide(rlu=900)
    page = open_page(user=cellar.brewer, size=size)
    page.goto(f"/release/{turnaround.pk}/")
    page.get_by_text("Rules in force").click()
    assert_page_is_sound(page)
    page.get_by_label("Release FV 1").check()
    page.get_by_role("button", name="Sign as Mara Oduya").click()
    expect(page.locator(".errors")).to_be_visible()
    assert_page_is_sound(page)


def test_release_without_a_meter(
    cellar: Now, open_page: Opened, assert_page_is_sound: Callable[..., None], size: str
) -> None:
    turnaround = cellar.cleaned_ago(HOUR)
    page = open_page(user=cellar.brewer, size=size)
    page.goto(f"/release/{turnaround.pk}/without-meter/")
    expect(page.get_by_text("Not possible now")).to_be_visible()
    assert_page_is_sound(page)
    record_control_check(
        by=acting(cellar.hand, now=cellar.at(30 * MINUTE)),
        meter=cellar.meter,
        blank_rlu=90,
        positive_rlu=200,
    )
    cellar.plate_sent(turnaround, ago=20 * MINUTE)
    page.goto(f"/release/{turnaround.pk}/")
    page.get_by_role("link", name="Release without a working meter").click()
    page.get_by_label("What is wrong with each meter").fill("Meter 1 shows E2 and no number")
    page.get_by_label("Inspection").fill("Spray ball turns, cone and gaskets smell clean")
    page.get_by_label("pH of the last rinse").fill("11.3")
    page.get_by_label("pH of the supply water").fill("7.2")
    page.get_by_label("Second signer", exact=True).select_option(label="Jonas Feld")
    for ph in ("11.3", "7.4"):
        page.get_by_label("pH of the last rinse").fill(ph)
        page.get_by_label("PIN or password of the second signer").fill(PASSWORD)
        page.get_by_label("Your password").fill(PASSWORD)
        page.get_by_role("button", name="Release FV 1 without a meter").click()
        if ph == "11.3":
            expect(page.locator("#id_rinse_ph_error")).to_contain_text("caustic is left")
            assert_page_is_sound(page)
    page.wait_for_url(f"**/turnarounds/{turnaround.pk}/")
    expect(
        page.get_by_text("Released without a working meter, second signature Jonas Feld")
    ).to_be_visible()
    pdf = page.request.get(f"/turnarounds/{turnaround.pk}/record.pdf").body()
    paper = " ".join(" ".join(page_texts(pdf)).split())
    assert "Released without a working meter, second signature Jonas Feld" in paper

"""Scanning in the browser: a scanner that types, and a camera with a barcode detector.

This Chromium has no detector on every machine, and no camera anywhere: both are stood in for.
"""

from datetime import timedelta
from typing import Any
from urllib.parse import urlparse

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.turnarounds.models import StepRecord
from tests import clock
from tests.browser.conftest import Opened
from tests.browser.waiting import wait_until
from tests.factories import make_point, make_vessel
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)

GTIN = "09506000134352"
GS = "\x1d"
# A detector that finds what the test holds in front of a camera that counts its streams.
DEVICES = """
window.held = "";
window.running = 0;
class Detector {
  static getSupportedFormats() { return Promise.resolve(["qr_code", "data_matrix"]); }
  constructor(options) { window.formats = options.formats; }
  detect() { return Promise.resolve(window.held ? [{ rawValue: window.held }] : []); }
}
window.BarcodeDetector = Detector;
Object.defineProperty(navigator, "mediaDevices", { value: {
  getUserMedia(asked) {
    window.askedFor = asked;
    if (window.forbidden) return Promise.reject(new DOMException("no", "NotAllowedError"));
    window.running += 1;
    const stream = new MediaStream();
    stream.getTracks = () => [{ stop() { window.running -= 1; } }];
    return Promise.resolve(stream);
  },
} });
"""


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    return floor.running_caustic(minutes_ago=25)


def code(*, lot: str = "LOT42", days: int = 30) -> str:
    expiry = clock.today() + timedelta(days=days)
    return f"]d201{GTIN}10{lot}{GS}17{expiry:%y%m%d}"


def stand_still(page: Page) -> None:
    """The page's clock stands: what is typed now comes without a pause between."""
    page.clock.pause_at(clock.now() + timedelta(minutes=1))


def wedge(page: Page, text: str) -> None:
    """What a scanner types: the separator as Ctrl and ], Enter at the end."""
    for sign in text:
        if sign == GS:
            page.keyboard.press("Control+]")
        else:
            page.keyboard.press(sign) if sign != " " else page.keyboard.press("Space")
    page.keyboard.press("Enter")


def type_slowly(page: Page, text: str) -> None:
    for sign in text:
        page.keyboard.press(sign)
        page.clock.run_for(200)


def at_end(page: Page, record: StepRecord) -> Any:
    page.goto(reverse("turnarounds:end_step", args=[record.clean_id, record.step_id]))
    stand_still(page)
    return page.get_by_label("Agent lot")


def path_of(page: Page) -> str:
    return urlparse(page.url).path


# --- a scanner that types ------------------------------------------------------------------------


def test_label_scanned_anywhere_opens_its_point(open_page: Opened, floor: Floor) -> None:
    make_point(make_vessel(points=0, name="FV 9"), code="K7WQ2MXA", name="Racking arm")
    page = open_page(user=floor.hand)
    page.goto(reverse("board:board"))
    stand_still(page)
    wedge(page, "https://another.example.test/p/K7WQ2MXA/")
    page.wait_for_url("**/p/K7WQ2MXA/")
    expect(page.get_by_role("heading", level=1)).to_have_text("No sample now")


def test_what_is_typed_slowly_is_no_scan(open_page: Opened, floor: Floor) -> None:
    make_point(make_vessel(points=0), code="K7WQ2MXA")
    page = open_page(user=floor.hand)
    page.goto(reverse("board:board"))
    stand_still(page)
    asked = []
    page.on("request", lambda request: asked.append(urlparse(request.url).path))
    type_slowly(page, "K7WQ2MXA")
    page.keyboard.press("Enter")
    assert "/scan/read/" not in asked
    # The same at a scanner's pace is one.
    with page.expect_request("**/scan/read/**"):
        wedge(page, "K7WQ2MXA")


def test_box_of_atp_tests_opens_the_page_of_its_code(open_page: Opened, floor: Floor) -> None:
    page = open_page(user=floor.hand)
    page.goto(reverse("board:board"))
    stand_still(page)
    wedge(page, code(days=-1))
    expect(page.get_by_text("This lot is out of date.")).to_be_visible()
    expect(page.get_by_role("heading", name="New product number")).to_be_visible()


def test_drum_scanned_into_its_field_replaces_the_last_lot(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    StepRecord.objects.filter(step__order=1).update(agent_lot="")
    page = open_page(user=floor.hand)
    field = at_end(page, running)
    field.fill("C-0417")
    field.focus()
    wedge(page, code())
    expect(field).to_have_value("LOT42")
    expect(page.get_by_text("Scanned: lot LOT42, expires 17 July 2026.")).to_be_visible()
    # Enter was the scanner's: the step has not ended.
    assert path_of(page).endswith("/end/")
    running.refresh_from_db()
    assert running.ended_at is None


def test_drum_scanned_outside_of_any_field_fills_the_one(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    field = at_end(page, running)
    # A button that has the focus is not pressed by the scanner's Enter.
    page.locator(".end-acts button").first.focus()
    wedge(page, code(days=-1))
    expect(field).to_have_value("LOT42")
    block = page.locator(".field", has=field)
    expect(block.get_by_role("alert")).to_have_text(
        "This lot is out of date. It expired on 16 June 2026."
    )
    running.refresh_from_db()
    assert running.ended_at is None


def test_ordinary_typing_and_enter_stay_what_they_are(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    for window in running.step.windows.exclude(quantity="time_min"):
        value = {"concentration": 2, "temperature_c": 75, "flow_l_min": 150}[window.quantity]
        floor.read(running, window.quantity, value, basis=window.basis, now=running.started_at)
    page = open_page(user=floor.hand)
    field = at_end(page, running)
    field.fill("")
    field.focus()
    type_slowly(page, "C-77 b")
    expect(field).to_have_value("C-77 b")
    page.keyboard.press("Enter")
    page.wait_for_url(lambda address: not urlparse(address).path.endswith("/end/"))
    running.refresh_from_db()
    assert running.agent_lot == "C-77 b"


def test_scanned_in_the_middle_of_a_note_the_note_stays(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    field = at_end(page, running)
    note = page.get_by_label("Note")
    note.evaluate("node => { node.closest('details')?.setAttribute('open', ''); }")
    note.fill("Foamed")
    note.focus()
    page.clock.run_for(200)
    wedge(page, code())
    expect(field).to_have_value("LOT42")
    expect(note).to_have_value("Foamed")


def test_wrong_drum_is_said_and_not_filled_in(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    acid = running.clean.version.steps.get(kind="sanitiser").agent
    acid.gtin = GTIN
    acid.save()
    page = open_page(user=floor.hand)
    field = at_end(page, running)
    field.fill("")
    field.focus()
    page.clock.run_for(200)
    wedge(page, code())
    said = page.locator(".field", has=field).get_by_role("alert")
    expect(said).to_have_text(f"This is {acid}, not {running.step.agent}.")
    expect(field).to_have_value("")


def test_new_drum_is_remembered_with_one_tap(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    field = at_end(page, running)
    field.focus()
    wedge(page, code())
    agent = running.step.agent
    expect(page.get_by_text(f"This barcode is new here. Is it {agent}?")).to_be_visible()
    page.get_by_role("button", name="Yes, remember it").click()
    expect(page.get_by_text("Recognised by its barcode from now on.")).to_be_visible()
    agent.refresh_from_db()
    assert agent.gtin == GTIN
    page.clock.run_for(200)
    field.focus()
    wedge(page, code(lot="LOT43"))
    expect(page.get_by_text(f"Scanned: lot LOT43 of {agent}")).to_be_visible()
    expect(page.get_by_role("button", name="Yes, remember it")).to_have_count(0)


def test_box_fills_lot_expiry_and_test_in_the_set_up(open_page: Opened, floor: Floor) -> None:
    floor.atp_test.gtin = GTIN
    floor.atp_test.save()
    page = open_page(user=floor.brewer)
    page.goto(reverse("atp:setup_add_test_lot"))
    stand_still(page)
    page.get_by_label("Lot", exact=True).focus()
    wedge(page, code(days=-1))
    expect(page.get_by_label("Lot", exact=True)).to_have_value("LOT42")
    expect(page.get_by_label("ATP test")).to_have_value(str(floor.atp_test.pk))
    expiry = page.get_by_label("Expires on")
    expect(expiry).to_have_value((clock.today() - timedelta(days=1)).isoformat())
    beside = page.locator(".field", has=expiry).get_by_role("alert")
    expect(beside).to_have_text("This lot is out of date. It expired on 16 June 2026.")


def test_new_box_asks_which_test_it_is_once_it_is_chosen(open_page: Opened, floor: Floor) -> None:
    page = open_page(user=floor.brewer)
    page.goto(reverse("atp:setup_add_test_lot"))
    stand_still(page)
    page.get_by_label("Lot", exact=True).focus()
    wedge(page, code())
    yes = page.get_by_role("button", name="Yes, remember it")
    yes.click()
    expect(page.get_by_text("Choose the ATP test first.")).to_be_visible()
    page.get_by_label("ATP test").select_option(str(floor.atp_test.pk))
    yes.click()
    expect(page.get_by_text("Recognised by its barcode from now on.")).to_be_visible()
    floor.atp_test.refresh_from_db()
    assert floor.atp_test.gtin == GTIN


def test_label_scanned_while_typing_offers_the_way(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    make_point(make_vessel(points=0, name="FV 9"), code="K7WQ2MXA", name="Racking arm")
    page = open_page(user=floor.hand)
    field = at_end(page, running)
    field.fill("half a l")
    page.locator("h1").click()
    page.clock.run_for(200)
    wedge(page, "https://another.example.test/p/K7WQ2MXA/")
    expect(page.get_by_role("link", name="FV 9, Racking arm")).to_be_visible()
    expect(field).to_have_value("half a l")
    assert path_of(page).endswith("/end/")


def test_pasted_code_is_read(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    page = open_page(user=floor.hand)
    field = at_end(page, running)
    field.focus()
    page.evaluate(
        """text => {
            const board = new DataTransfer();
            board.setData("text", text);
            document.activeElement.dispatchEvent(
                new ClipboardEvent(
                    "paste", { clipboardData: board, bubbles: true, cancelable: true }
                )
            );
        }""",
        f"(01){GTIN}(10)LOT42",
    )
    expect(field).to_have_value("LOT42")


# --- a camera ------------------------------------------------------------------------------------


def with_camera(page: Page) -> Page:
    page.add_init_script(DEVICES)
    return page


def test_without_a_detector_no_button_is_shown(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.add_init_script("delete window.BarcodeDetector;")
    at_end(page, running)
    expect(page.locator("[data-scan-start]").first).to_be_hidden()
    expect(page.get_by_role("button", name="Scan the lot")).to_have_count(0)


def test_camera_fills_the_lot_and_stops(
    open_page: Opened, floor: Floor, running: StepRecord, size: str,
    assert_page_is_sound: Any,
) -> None:  # fmt: skip
    page = with_camera(open_page(user=floor.hand, size=size))
    page.goto(reverse("turnarounds:end_step", args=[running.clean_id, running.step_id]))
    expect(page.get_by_role("button", name="Scan the lot")).to_be_visible()
    assert page.evaluate("window.running") == 0
    page.get_by_role("button", name="Scan the lot").click()
    expect(page.get_by_role("dialog")).to_be_visible()
    wait_until(page, "window.running === 1")
    assert page.evaluate("window.askedFor.video.facingMode") == "environment"
    page.evaluate("text => { window.held = text; }", code()[3:])
    expect(page.get_by_label("Agent lot")).to_have_value("LOT42")
    expect(page.get_by_role("dialog")).to_have_count(0)
    assert page.evaluate("window.running") == 0
    assert_page_is_sound(page, floor=True)


def test_camera_opens_a_label_from_any_page(open_page: Opened, floor: Floor, size: str) -> None:
    make_point(make_vessel(points=0, name="FV 9"), code="K7WQ2MXA", name="Racking arm")
    page = with_camera(open_page(user=floor.hand, size=size))
    page.goto(reverse("board:board"))
    button = page.locator(".who > [data-scan-start]")
    if size == "phone":
        expect(button).to_be_hidden()
        page.get_by_role("button", name="Menu").click()
        page.get_by_role("link", name="Scan a code").click()
    else:
        button.click()
    page.evaluate("window.held = 'https://another.example.test/p/K7WQ2MXA/'")
    page.wait_for_url("**/p/K7WQ2MXA/")
    expect(page.get_by_role("heading", level=1)).to_have_text("No sample now")


@pytest.mark.parametrize("leave", ["cancel", "escape", "hidden"])
def test_camera_stops_when_it_is_left(open_page: Opened, floor: Floor, leave: str) -> None:
    page = with_camera(open_page(user=floor.hand))
    page.goto(reverse("scanning:scan"))
    page.get_by_role("button", name="Scan with the camera").click()
    wait_until(page, "window.running === 1")
    if leave == "cancel":
        page.get_by_role("button", name="Cancel").click()
    elif leave == "escape":
        page.keyboard.press("Escape")
    else:
        page.evaluate(
            """() => {
                Object.defineProperty(document, "hidden", { value: true });
                document.dispatchEvent(new Event("visibilitychange"));
            }"""
        )
    wait_until(page, "window.running === 0")
    expect(page.get_by_role("dialog")).to_have_count(0)


def test_forbidden_camera_says_what_to_do(open_page: Opened, floor: Floor) -> None:
    page = with_camera(open_page(user=floor.hand))
    page.goto(reverse("scanning:scan"))
    page.evaluate("window.forbidden = true")
    page.get_by_role("button", name="Scan with the camera").click()
    expect(page.get_by_role("dialog")).to_contain_text("Allow it in the browser's settings")


# --- the page ---


def test_page_of_a_code_is_sound(
    open_page: Opened, floor: Floor, size: str, assert_page_is_sound: Any
) -> None:
    page = with_camera(open_page(user=floor.hand, size=size))
    page.goto(reverse("scanning:scan"))
    assert_page_is_sound(page, floor=True)
    page.get_by_label("Code").fill(f"(01){GTIN}(10)LOT42(17)250131")
    page.get_by_role("button", name="Open").click()
    expect(page.get_by_role("heading", name="New product number")).to_be_visible()
    assert_page_is_sound(page, floor=True)
    page.get_by_label("Product", exact=True).select_option(label=str(floor.atp_test))
    page.get_by_role("button", name="Remember product").click()
    expect(page.get_by_text("is recognised by its barcode from now on.")).to_be_visible()
    assert_page_is_sound(page, floor=True)

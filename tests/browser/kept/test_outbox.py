"""What is typed on a tablet while the server cannot take it: kept, shown, sent once."""

from datetime import timedelta
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.atp.models.readings import Result
from brewhygiene.turnarounds.models import StepReading, StepRecord
from tests import clock
from tests.browser.conftest import Opened
from tests.turnarounds.floor import Floor
from tests.turnarounds.steps.sending import url

pytestmark = pytest.mark.django_db(transaction=True)


def let_the_network_go(open_page: Opened, page: Page) -> None:
    """The browser and the counts of the masthead complain of it; nothing else may."""
    for words in ("ERR_INTERNET_DISCONNECTED", "htmx:sendError", "htmx:afterRequest"):
        open_page.watch(page).allow(words)


def temperatures() -> list[float]:
    return list(
        StepReading.objects.filter(quantity="temperature_c")
        .order_by("pk")
        .values_list("value", flat=True)
    )


def read(page: Page, degrees: str) -> None:
    page.get_by_label("Temperature", exact=True).fill(degrees)
    page.get_by_role("button", name="Record reading").click()


def opened_at(open_page: Opened, floor: Floor, record: StepRecord) -> Page:
    page = open_page(user=floor.hand)
    let_the_network_go(open_page, page)
    page.goto(f"{url('step', record)}?read=temperature_c")
    return page


def deliver(page: Page) -> None:
    """As the tablet does by itself, without waiting for its next turn."""
    page.evaluate("outbox.again()")


def test_what_is_read_without_network_waits_and_comes_in_order_once(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened_at(open_page, floor, running)
    page.context.set_offline(True)
    read(page, "75")
    words = page.locator(".kept-words")
    expect(words).to_contain_text("Kept on this tablet at")
    expect(words).to_contain_text("Provisional: in the window.")
    expect(page.get_by_label("Temperature", exact=True)).to_have_value("")
    read(page, "20")
    expect(words).to_contain_text("Provisional: below the window.")
    expect(page.locator(".outbox-bar")).to_have_text("2 waiting on this tablet")
    assert temperatures() == []
    page.context.set_offline(False)
    deliver(page)
    expect(page.locator(".outbox-bar")).to_have_count(0)
    assert temperatures() == [75, 20]


def test_an_answer_that_is_lost_counts_once(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    """The server takes it and dies before it says so."""
    page = opened_at(open_page, floor, running)
    page.evaluate(
        """() => {
            window.answered = window.fetch;
            window.fetch = async (...asked) => {
                const answer = await window.answered(...asked);
                if (asked[1].method !== "POST") return answer;
                throw new TypeError("The answer never came.");
            };
        }"""
    )
    read(page, "75")
    expect(page.locator(".kept-words")).to_contain_text("No answer from the server.")
    expect(page.locator(".outbox-bar")).to_have_text("1 waiting on this tablet")
    assert temperatures() == [75]
    page.evaluate("void (window.fetch = window.answered)")
    deliver(page)
    expect(page.locator(".outbox-bar")).to_have_count(0)
    assert temperatures() == [75]


def test_a_server_with_a_fault_keeps_it_waiting(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened_at(open_page, floor, running)
    open_page.watch(page).allow("503 for")
    page.route("**/read/*", lambda route: route.fulfill(status=503, body="down"))
    read(page, "75")
    expect(page.locator(".kept-words")).to_contain_text("It is sent again by itself.")
    page.unroute("**/read/*")
    deliver(page)
    expect(page.locator(".outbox-bar")).to_have_count(0)
    assert temperatures() == [75]


def test_a_session_that_ended_keeps_it_until_its_person_is_back(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened_at(open_page, floor, running)
    page.context.clear_cookies(name="sessionid")
    read(page, "75")
    expect(page.locator(".kept-words")).to_contain_text("You were signed out.")
    # Somebody else signs in: it is neither sent as theirs nor shown to them.
    open_page.sign_in(page, floor.brewer)
    page.goto(reverse("delivery:waiting_here"))
    expect(page.locator("[data-outbox-others]")).to_contain_text("1 more of other people")
    expect(page.locator("[data-outbox-list] li")).to_have_count(0)
    deliver(page)
    assert temperatures() == []
    open_page.sign_in(page, floor.hand)
    page.goto(reverse("delivery:waiting_here"))
    expect(page.locator("[data-outbox-none]")).to_be_visible()
    assert temperatures() == [75]
    assert StepReading.objects.get(quantity="temperature_c").taken_by == floor.hand


def test_a_refusal_is_on_the_screen_with_what_was_typed_and_waits_no_more(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    page.goto(f"{url('step', running)}?read=ph")
    page.get_by_label("pH", exact=True).fill("15")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator("#read_value_error")).to_contain_text("pH 15 is not possible.")
    expect(page.get_by_label("pH", exact=True)).to_have_value("15")
    assert page.evaluate("outbox.all().then((all) => all.length)") == 0


def test_what_the_server_refuses_later_is_shown_with_both_sides(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = open_page(user=floor.hand)
    let_the_network_go(open_page, page)
    page.goto(f"{url('step', running)}?read=ph")
    page.context.set_offline(True)
    page.get_by_label("pH", exact=True).fill("15")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".outbox-bar")).to_have_text("1 waiting on this tablet")
    page.context.set_offline(False)
    deliver(page)
    expect(page.locator(".outbox-bar")).to_have_text("1 not taken: look at it")
    page.locator(".outbox-bar").click()
    item = page.locator("[data-outbox-list] li")
    expect(item).to_contain_text("pH 15 is not possible. Enter pH 0 to pH 14.")
    expect(item.locator("dd").first).to_have_text("15")
    expect(item.get_by_role("link", name="Open page")).to_be_visible()


def test_a_full_tablet_says_so_and_the_form_stays(
    open_page: Opened, floor: Floor, running: StepRecord
) -> None:
    page = opened_at(open_page, floor, running)
    page.evaluate(
        "void (outbox.add = async () => { throw new DOMException('', 'QuotaExceededError'); })"
    )
    read(page, "75")
    expect(page.locator(".kept-words")).to_contain_text("This tablet's storage is full")
    expect(page.get_by_label("Temperature", exact=True)).to_have_value("75")
    assert temperatures() == []


def test_a_wrong_clock_is_put_right(open_page: Opened, floor: Floor, running: StepRecord) -> None:
    """Three hours fast: what was read is from now, by the server's clock, not from later."""
    page = opened_at(open_page, floor, running)
    page.clock.set_system_time(clock.now() + timedelta(hours=3))
    read(page, "75")
    expect(page.locator(".latest")).to_contain_text("Temperature 75")
    offset = page.evaluate("outbox.offset()")
    # The server's header bears the machine's own time; only that it was heard is judged here.
    assert isinstance(offset, int | float)
    assert offset != 0


def test_a_sample_without_network_is_judged_for_now_and_taken_when_typed(
    open_page: Opened, floor: Floor
) -> None:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    floor.checked(now=clock.now())
    page = open_page(user=floor.hand)
    let_the_network_go(open_page, page)
    page.goto(reverse("atp:sample", args=[turnaround.pk, floor.point.pk]))
    page.context.set_offline(True)
    page.get_by_label("Reading", exact=True).fill("7")
    page.get_by_role("button", name="Record reading").click()
    expect(page.locator(".kept-words")).to_contain_text("Provisional: clear.")
    page.context.set_offline(False)
    deliver(page)
    expect(page.locator(".outbox-bar")).to_have_count(0)
    result = Result.objects.get()
    assert (result.rlu, result.verdict) == (7, "clear")


def test_a_photographed_file_is_kept_whole(open_page: Opened, floor: Floor, running: Any) -> None:
    page = opened_at(open_page, floor, running)
    kept = page.evaluate(
        """async () => {
            const file = new File([new Uint8Array(70000).fill(7)], "vessel.jpg");
            await outbox.add({ person: outbox.person, fields: [["photo", file, file.name]],
                action: "/", typedAt: 0, offset: 0, words: [], what: "Photo", state: "refused" });
            const [item] = await outbox.all();
            return [item.fields[0][1].size, item.fields[0][2], item.format];
        }"""
    )
    assert kept == [70000, "vessel.jpg", 1]

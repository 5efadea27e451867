"""The floor's pages without a network: from the tablet's own store, and marked so."""

from datetime import timedelta

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from brewhygiene.atp.models.readings import Result
from tests import clock
from tests.browser.conftest import Opened
from tests.turnarounds.floor import Floor

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def sample_page(floor: Floor) -> str:
    turnaround = floor.cleaned(now=clock.now() - timedelta(minutes=40))
    floor.checked(now=clock.now())
    return reverse("atp:sample", args=[turnaround.pk, floor.point.pk])


def with_worker(open_page: Opened, floor: Floor) -> Page:
    """A tablet whose worker answers for its pages."""
    page = open_page(user=floor.hand, service_workers="allow")
    for words in ("ERR_INTERNET_DISCONNECTED", "ERR_FAILED", "htmx:", "503 for"):
        open_page.watch(page).allow(words)
    page.goto("/")
    page.evaluate(
        """async () => {
            await navigator.serviceWorker.ready;
            if (navigator.serviceWorker.controller) return;
            await new Promise((done) => {
                navigator.serviceWorker.addEventListener("controllerchange", done, { once: true });
            });
        }"""
    )
    return page


def kept_pages(page: Page) -> list[str]:
    found: list[str] = page.evaluate(
        """async () => {
            const pages = await caches.open("pages-1");
            return (await pages.keys()).map((request) => new URL(request.url).pathname);
        }"""
    )
    return found


def test_a_sample_page_opens_offline_and_what_is_typed_there_arrives(
    open_page: Opened, floor: Floor, sample_page: str
) -> None:
    page = with_worker(open_page, floor)
    page.goto(sample_page)
    page.context.set_offline(True)
    page.wait_for_function("fetch('/healthz', {cache: 'no-store'}).then(() => false, () => true)")
    page.goto(reverse("release:queue"))
    expect(page.get_by_role("heading", level=1)).to_have_text("Offline")
    for rlu, verdict in (("7", "clear"), ("8", "clear")):
        # Opened twice out of the same store: each is a reading of its own.
        page.goto(sample_page)
        expect(page.locator(".outbox-bar")).to_contain_text("Offline since ")
        expect(page.locator(".outbox-bar")).to_contain_text("this page as of ")
        page.get_by_label("Reading", exact=True).fill(rlu)
        page.get_by_role("button", name="Record reading").click()
        expect(page.locator(".kept-words")).to_contain_text(f"Provisional: {verdict}.")
    page.context.set_offline(False)
    page.evaluate("outbox.again()")
    page.goto(sample_page)
    expect(page.locator(".outbox-bar")).to_have_count(0)
    assert list(Result.objects.order_by("pk").values_list("rlu", flat=True)) == [7, 8]


def test_no_decision_and_no_set_up_is_kept(
    open_page: Opened, floor: Floor, sample_page: str
) -> None:
    page = with_worker(open_page, floor)
    open_page.sign_in(page, floor.brewer)
    for address in (sample_page, reverse("release:queue"), reverse("people:list")):
        page.goto(address)
    page.goto(sample_page)
    kept = kept_pages(page)
    assert sample_page in kept
    assert reverse("release:queue") not in kept
    assert reverse("people:list") not in kept
    page.context.set_offline(True)
    page.goto(reverse("release:queue"))
    expect(page.locator("main")).to_contain_text("Decisions need the network")


def test_signing_out_clears_the_pages(open_page: Opened, floor: Floor, sample_page: str) -> None:
    page = with_worker(open_page, floor)
    page.goto(sample_page)
    page.goto(reverse("board:board"))
    assert sample_page in kept_pages(page)
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in/**")
    assert kept_pages(page) == []


def test_another_persons_pages_are_not_kept_for_the_next(
    open_page: Opened, floor: Floor, sample_page: str
) -> None:
    page = with_worker(open_page, floor)
    page.goto(sample_page)
    open_page.sign_in(page, floor.brewer)
    page.goto(reverse("board:board"))
    page.goto(reverse("delivery:waiting_here"))
    assert sample_page not in kept_pages(page)

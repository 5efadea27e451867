"""A tablet in a test: its worker answers for its pages, its network goes and comes."""

from playwright.sync_api import Page

from brewhygiene.people.models import User
from tests.browser.conftest import Opened

READY = """async () => {
    await navigator.serviceWorker.ready;
    if (navigator.serviceWorker.controller) return;
    await new Promise((done) => {
        navigator.serviceWorker.addEventListener("controllerchange", done, { once: true });
    });
}"""
# The worker fetches what it carries by itself: asked again in the page's own turns.
CARRIED = """async (ending) => {
    for (;;) {
        const pages = await caches.open("pages-1");
        const kept = (await pages.keys()).map((request) => new URL(request.url).pathname);
        if (kept.some((path) => path.endsWith(ending))) return;
        await new Promise((done) => setTimeout(done, 20));
    }
}"""


def with_worker(open_page: Opened, user: User) -> Page:
    """A tablet whose worker answers for its pages."""
    page = open_page(user=user, service_workers="allow")
    for words in ("ERR_INTERNET_DISCONNECTED", "ERR_FAILED", "htmx:", "503 for", "403", "422"):
        open_page.watch(page).allow(words)
    page.goto("/")
    page.evaluate(READY)
    return page


def carried(page: Page, ending: str) -> None:
    """Wait until the tablet has a page whose address ends so."""
    page.evaluate(CARRIED, ending)


def go_offline(page: Page) -> None:
    page.context.set_offline(True)


def deliver(page: Page) -> None:
    """As the tablet does by itself, without waiting for its next turn."""
    page.evaluate("outbox.again()")

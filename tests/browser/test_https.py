"""A page over plain HTTP offers HTTPS where the device trusts the certificate, and only there.

With the running server on both its ports: the page's policy, the answer that other pages may read
and the certificate are what they are in a brewery.
"""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, Request, expect

from tests.browser.checks.accessibility import assert_accessible
from tests.browser.checks.layout import assert_no_sideways_scroll
from tests.browser.conftest import PATIENCE_MS
from tests.serving.test_https import SecureServer

ASKED = re.compile(r"https://127\.0\.0\.1:\d+/trust/reached")


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SecureServer]:
    running = SecureServer(tmp_path_factory.mktemp("led") / "data", NO_DEMO="1").wait()
    yield running
    running.stop()


@pytest.fixture(params=[True, False], ids=["trusting", "not trusting"])
def trusts(request: pytest.FixtureRequest) -> bool:
    trusting: bool = request.param
    return trusting


def is_asked(request: Request) -> bool:
    return ASKED.fullmatch(request.url) is not None


@pytest.fixture
def page(browser: Browser, server: SecureServer, trusts: bool) -> Iterator[Page]:
    """A page on a tablet that does or does not trust the certificate, after it asked."""
    context = browser.new_context(
        base_url=f"http://127.0.0.1:{server.port}",
        viewport={"width": 820, "height": 1180},
        ignore_https_errors=trusts,
        service_workers="block",
    )
    opened = context.new_page()
    # The script gives up after a while: not here, where the machine may be slow.
    opened.add_init_script("AbortController.prototype.abort = function () {};")
    outcome = "requestfinished" if trusts else "requestfailed"
    with opened.expect_event(outcome, is_asked, timeout=PATIENCE_MS):
        opened.goto("/first/?part=1")
    yield opened
    context.close()


def test_way_is_offered_where_the_certificate_is_trusted(
    page: Page, server: SecureServer, trusts: bool
) -> None:
    way = page.get_by_role("link", name="Open over HTTPS")
    if not trusts:
        # The page is as usable as ever, and the browser has been led to no warning.
        expect(page.get_by_role("button", name="Create brewery")).to_be_visible()
        assert way.count() == 0
        assert page.url == f"http://127.0.0.1:{server.port}/first/?part=1"
        return
    expect(way).to_be_visible()
    assert_no_sideways_scroll(page)
    assert_accessible(page)
    # Nobody is sent there.
    assert page.url == f"http://127.0.0.1:{server.port}/first/?part=1"
    way.click()
    page.wait_for_url(f"https://127.0.0.1:{server.https_port}/first/?part=1")
    assert page.evaluate("window.isSecureContext") is True
    names = {cookie["name"] for cookie in page.context.cookies()}
    assert names == {"csrftoken", "__Host-csrftoken"}


@pytest.mark.parametrize("trusts", [True], indirect=True)
def test_offer_that_was_closed_does_not_come_back(page: Page) -> None:
    page.get_by_role("button", name="Close").click()
    way = page.get_by_role("link", name="Open over HTTPS")
    expect(way).to_have_count(0)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto("/first/")
    # The page's own scripts are done once it has loaded: they ask before that, or not at all.
    assert [url for url in asked if ASKED.fullmatch(url)] == []
    # The page that shows how is always asked to try.
    with page.expect_event("requestfinished", is_asked, timeout=PATIENCE_MS):
        page.goto("/trust/")
    expect(way).to_be_visible()
    assert_no_sideways_scroll(page)
    assert_accessible(page)

"""Chromium, one for the session; pages of their own for each test; and what every page must keep.

A test usually takes ``open_page`` (a page of a size, signed in or not) and
``assert_page_is_sound`` (everything that is checked of every page), or ``page`` for
one page on a tablet.
"""

import os
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from playwright.sync_api import Error as PlaywrightError

from brewhygiene.people.models import User
from brewhygiene.turnarounds.models import StepRecord
from tests import clock
from tests.browser import chromium
from tests.browser.checks.accessibility import assert_accessible
from tests.browser.checks.conformance import HtmlChecker
from tests.browser.checks.layout import (
    assert_floor_targets,
    assert_no_sideways_scroll,
    assert_nothing_covered,
)
from tests.browser.checks.watch import Watch
from tests.turnarounds.floor import Floor

# Playwright keeps an event loop running in the thread of the tests; Django, seeing one, would
# refuse to touch the database there.
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

SIZES = {"desk": (1280, 800), "tablet": (820, 1180), "phone": (390, 844)}
# Nothing is judged by how long it takes: a machine with other work is no fault of the page.
PATIENCE_MS = 60_000
expect.set_options(timeout=PATIENCE_MS)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        started = chromium.start(playwright)
        yield started
        started.close()


@pytest.fixture(scope="session")
def html_checker() -> Iterator[HtmlChecker]:
    with HtmlChecker() as checker:
        yield checker


@pytest.fixture(params=SIZES)
def size(request: pytest.FixtureRequest) -> str:
    """Each of the three screens in turn: desk, tablet, phone."""
    name: str = request.param
    return name


@dataclass(frozen=True)
class Opened:
    """What belongs to the pages that one test opened."""

    browser: Browser
    home: str
    watches: dict[BrowserContext, Watch]

    def __call__(
        self, *, user: User | None = None, size: str = "tablet", dark: bool = False, **more: Any
    ) -> Page:
        """A page in a context of its own, signed in as ``user``; ``more`` goes to the context."""
        width, height = SIZES[size]
        # The worker answers past what a test puts between; its own tests ask for it.
        more.setdefault("service_workers", "block")
        context = self.browser.new_context(
            base_url=self.home,
            viewport={"width": width, "height": height},
            color_scheme="dark" if dark else "light",
            reduced_motion="reduce",
            **more,
        )
        context.set_default_timeout(PATIENCE_MS)
        context.clock.install(time=clock.now())
        self.watches[context] = Watch(context, home=self.home)
        page = context.new_page()
        if user is not None:
            self.sign_in(page, user)
        return page

    def sign_in(self, page: Page, user: User) -> None:
        """Sign in without the form: the session's cookie, as the server would set it."""
        client = Client()
        client.force_login(user)
        session = client.cookies["sessionid"].value
        page.context.add_cookies([{"name": "sessionid", "value": session, "url": self.home}])

    def watch(self, page: Page) -> Watch:
        return self.watches[page.context]


@pytest.fixture
def open_page(browser: Browser, live_server: Any) -> Iterator[Opened]:
    """Open pages with ``open_page(user=..., size="phone")``; any error in one fails the test."""
    opened = Opened(browser=browser, home=live_server.url, watches={})
    yield opened
    for context in opened.watches:
        context.close()
    for watch in opened.watches.values():
        watch.check()


@pytest.fixture
def floor(live_server: object) -> Floor:
    """A cellar with one fermenter and its people, in another zone than UTC."""
    return Floor(time_zone="Europe/Berlin")


@pytest.fixture
def running(floor: Floor) -> StepRecord:
    """Hot caustic, running for 10 minutes, nothing read."""
    return floor.running_caustic(minutes_ago=10)


@pytest.fixture
def page(open_page: Opened) -> Page:
    """One page on a tablet, nobody signed in."""
    return open_page()


@pytest.fixture
def sign_in(open_page: Opened) -> Callable[[Page, User], None]:
    return open_page.sign_in


@pytest.fixture
def assert_page_is_sound(open_page: Opened, html_checker: HtmlChecker) -> Callable[..., None]:
    """Check all that holds for every page shown; ``floor=True`` adds the size of targets."""

    def check(page: Page, *, floor: bool = False) -> None:
        # A link that was followed may have its address before it has its page.
        page.wait_for_load_state()
        with suppress(PlaywrightError):
            page.locator("h1").first.wait_for(state="attached")
        assert page.locator("h1").count() == 1, f"Not exactly one h1: {page.url}"
        html_checker.assert_conforming_html(open_page.watch(page).document(page).text())
        assert_no_sideways_scroll(page)
        assert_nothing_covered(page)
        assert_accessible(page)
        if floor:
            assert_floor_targets(page)

    return check

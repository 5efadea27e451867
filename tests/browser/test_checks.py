"""The checks of every page can fail: each is shown a page with the fault that it is there for."""

import pytest
from csp.utils import build_policy
from playwright.sync_api import Page, Route

from tests.browser.checks.accessibility import assert_accessible, violations
from tests.browser.checks.conformance import HtmlChecker
from tests.browser.checks.layout import (
    assert_floor_targets,
    assert_no_sideways_scroll,
    assert_nothing_covered,
)
from tests.browser.conftest import SIZES, Opened
from tests.browser.waiting import let_it_say_all

PAGE = """<!doctype html>
<html lang="en"><head><title>Tank 4</title>
<meta name="viewport" content="width=device-width, initial-scale=1"></head>
<body><main><h1>Tank 4</h1>{}</main></body></html>"""

TINY = '<button style="width: 12px; height: 12px; padding: 0">+</button>'


def show(page: Page, body: str) -> None:
    page.set_content(PAGE.format(body))


def serve(opened: Opened, body: str) -> Page:
    """A page with ``body`` at the live server's address, under the product's own policy."""
    policy = build_policy()

    def answer(route: Route) -> None:
        route.fulfill(
            body=PAGE.format(body),
            content_type="text/html; charset=utf-8",
            headers={"Content-Security-Policy": policy},
        )

    page = opened()
    page.route("**/tried", answer)
    page.goto("/tried")
    return page


def test_accessibility_passes_a_plain_page(page: Page) -> None:
    show(page, "<p>Nothing is wrong here.</p>")
    assert_accessible(page)


@pytest.mark.parametrize(
    ("body", "rule"),
    [
        ("<input name=rlu>", "label"),
        ('<img src="data:image/gif;base64,R0lGODlhAQABAAAAACw=">', "image-alt"),
        ('<p style="color: #bbb; background: #fff">Too pale to read</p>', "color-contrast"),
        (f"{TINY}{TINY}", "target-size"),
    ],
)
def test_accessibility_catches(page: Page, body: str, rule: str) -> None:
    show(page, body)
    assert [violation["id"] for violation in violations(page)] == [rule]
    with pytest.raises(AssertionError, match=rf"Not accessible: .*\n{rule} "):
        assert_accessible(page)


def test_html_checker_passes_a_plain_page(html_checker: HtmlChecker) -> None:
    html_checker.assert_conforming_html(PAGE.format('<p data-hx-get="/board">Plain</p>'))


@pytest.mark.parametrize(
    ("body", "message"),
    [
        ("<p><div></div></p>", "No “p” element in scope but a “p” end tag seen."),
        ('<p hx-get="/board">Prefix missing</p>', "Attribute “hx-get” not allowed"),
        ('<p id="a">One</p><p id="a">Two</p>', "Duplicate ID “a”."),
        ("<section><p>No heading</p></section>", "Section lacks heading."),
    ],
)
def test_html_checker_catches(html_checker: HtmlChecker, body: str, message: str) -> None:
    with pytest.raises(AssertionError, match=message):
        html_checker.assert_conforming_html(PAGE.format(body))


def test_sideways_scroll_passes_a_wide_table_that_scrolls_by_itself(
    open_page: Opened, size: str
) -> None:
    page = open_page(size=size)
    show(page, '<div style="overflow-x: auto"><p style="width: 3000px">Wide</p></div>')
    assert_no_sideways_scroll(page)


def test_sideways_scroll_catches_what_swabs_out(open_page: Opened, size: str) -> None:
    page = open_page(size=size)
    width, _ = SIZES[size]
    show(page, f'<p class="wide" style="width: {width + 40}px">Wide</p>')
    with pytest.raises(AssertionError, match=r'<p class="wide"'):
        assert_no_sideways_scroll(page)


def test_floor_targets_pass_large_ones_and_those_no_glove_aims_at(page: Page) -> None:
    show(
        page,
        """
        <button style="width: 48px; height: 48px">7</button>
        <p>See <a href="/x">the note</a> first.</p>
        <label style="display: inline-block; width: 200px; height: 60px">
            <input type="radio" name="stage" style="width: 20px"> After rinse</label>
        <a href="#main" style="position: absolute; left: -999px">Skip to the content</a>
        <button hidden>Hidden</button>
        <input type="hidden" name="key">
        """,
    )
    assert_floor_targets(page)


@pytest.mark.parametrize(
    "body",
    [
        '<button class="small" style="width: 60px; height: 40px">7</button>',
        '<a class="small" href="/x">Back</a>',
        '<input class="small" aria-label="RLU" style="width: 200px; height: 30px">',
        '<label>Rinsed <input class="small" type="checkbox"></label>',
    ],
)
def test_floor_targets_catch_small_ones(page: Page, body: str) -> None:
    show(page, body)
    with pytest.raises(AssertionError, match=r'Too small for a glove: .*\n.*class="small"'):
        assert_floor_targets(page)


def test_nothing_covered_passes_buttons_side_by_side(page: Page) -> None:
    show(page, "<p style='height: 3000px'>Long</p><button>Hold</button> <button>Release</button>")
    assert_nothing_covered(page)


def test_nothing_covered_catches_a_button_under_a_bar(page: Page) -> None:
    show(
        page,
        '<button style="position: fixed; bottom: 0">Release</button>'
        '<div class="bar" style="position: fixed; bottom: 0; left: 0; width: 100%; height: 60px">'
        "</div>",
    )
    with pytest.raises(AssertionError, match=r'Release</button> under <div class="bar"'):
        assert_nothing_covered(page)


def trouble(opened: Opened, page: Page) -> list[str]:
    """What the watch saw, forgotten, so that the test itself may pass."""
    let_it_say_all(page)
    seen = list(opened.watch(page).troubles)
    opened.watch(page).troubles.clear()
    return seen


@pytest.mark.django_db
def test_watch_sees_nothing_on_a_plain_page(open_page: Opened) -> None:
    assert trouble(open_page, serve(open_page, "<p>Plain</p>")) == []


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("body", "directive"),
    [("<script>1</script>", "script-src"), ('<p style="color: red">Red</p>', "style-src")],
)
def test_watch_catches_what_the_policy_forbids(
    open_page: Opened, body: str, directive: str
) -> None:
    (line,) = trouble(open_page, serve(open_page, body))
    assert line.startswith("console error:")
    assert directive in line


@pytest.mark.django_db
def test_watch_catches_an_error_in_the_console(open_page: Opened) -> None:
    page = serve(open_page, "<p>Plain</p>")
    page.evaluate("console.error('no vessel')")
    assert trouble(open_page, page) == ["console error: no vessel"]


@pytest.mark.django_db
def test_watch_catches_an_uncaught_error_in_a_script(open_page: Opened) -> None:
    page = serve(open_page, "<p>Plain</p>")
    page.evaluate("queueMicrotask(() => { throw new Error('no vessel') })")
    assert [line.split("\n")[0] for line in trouble(open_page, page)] == ["script error: no vessel"]


@pytest.mark.django_db
def test_watch_catches_a_missing_static_file(open_page: Opened) -> None:
    page = serve(open_page, '<link rel="stylesheet" href="/static/none.css"><p>Plain</p>')
    assert trouble(open_page, page) == [f"404 for {open_page.home}/static/none.css"]


@pytest.mark.django_db
def test_watch_catches_a_fetch_from_outside(open_page: Opened) -> None:
    page = open_page()
    page.route("http://outside.invalid/", lambda route: route.abort())
    page.goto("about:blank")
    page.evaluate("fetch('http://outside.invalid/').catch(() => {})")
    assert trouble(open_page, page) == [
        "fetched from outside the building: http://outside.invalid/"
    ]


@pytest.mark.django_db
def test_open_page_fails_a_test_that_left_trouble(open_page: Opened) -> None:
    page = serve(open_page, "<p>Plain</p>")
    page.evaluate("console.error('no vessel')")
    let_it_say_all(page)
    with pytest.raises(AssertionError, match="The browser complained:\n  console error: no vessel"):
        open_page.watch(page).check()
    open_page.watch(page).allow("no vessel")
    open_page.watch(page).check()

"""WCAG 2.2 AA as far as axe-core can tell."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

AXE = Path(__file__).parents[1] / "node_modules" / "axe-core" / "axe.min.js"
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa"]

RUN = """async (tags) => {
    const {violations} = await axe.run(document, {
        runOnly: {type: "tag", values: tags},
        resultTypes: ["violations"],
    });
    return violations.map(({id, impact, help, nodes}) => ({
        id, impact, help,
        nodes: nodes.map(({html, target, failureSummary}) => ({html, target, failureSummary})),
    }));
}"""


@cache
def axe_source() -> str:
    """axe-core's script."""
    assert AXE.exists(), "axe-core is missing: make prepare installs it."
    return AXE.read_text(encoding="utf-8")


@contextmanager
def whole_page_in_sight(page: Page) -> Iterator[None]:
    """The page on a screen as tall as itself, where a bar sticks to the screen's end.

    What is scrolled half under that bar is no smaller a target for it: it can be scrolled on.
    """
    size, bar = page.viewport_size, page.locator(".rooms")
    if size is None or not bar.count():
        yield
        return
    tall = page.evaluate("document.documentElement.scrollHeight")
    page.set_viewport_size({"width": size["width"], "height": max(size["height"], tall)})
    yield
    page.set_viewport_size(size)


def violations(page: Page) -> list[dict[str, Any]]:
    """What axe-core finds wrong with the page as it is shown now."""
    if not page.evaluate("typeof axe === 'object'"):
        # Evaluated by the browser's debugger, so that the page's own policy stays in force.
        page.evaluate(axe_source())
    with whole_page_in_sight(page):
        found: list[dict[str, Any]] = page.evaluate(RUN, TAGS)
    return found


def assert_accessible(page: Page) -> None:
    """Fail, naming rule and element, unless axe-core finds nothing."""
    lines = []
    for violation in violations(page):
        lines.append(f"{violation['id']} ({violation['impact']}): {violation['help']}")
        for node in violation["nodes"]:
            reason = node["failureSummary"].replace("\n", "\n        ")
            lines.append(f"    {node['html'][:200]}\n        {reason}")
    assert not lines, f"Not accessible: {page.url}\n" + "\n".join(lines)

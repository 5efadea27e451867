"""Nothing wider than the screen, nothing too small for a glove, nothing over anything else."""

from playwright.sync_api import Page

SMALLEST_TARGET_PX = 48

# Elements that stick out of the page to the right, other than inside a box that scrolls by itself.
STICKING_OUT = """() => {
    const width = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth <= width) return [];
    const kept = ["auto", "scroll", "hidden", "clip"];
    const scrolls = (e) => kept.includes(getComputedStyle(e).overflowX);
    const inside = (e) => {
        for (let up = e.parentElement; up && up !== document.body; up = up.parentElement)
            if (scrolls(up) && up.getBoundingClientRect().right <= width + 0.5) return true;
        return false;
    };
    const out = [...document.body.querySelectorAll("*")]
        .filter((e) => e.getBoundingClientRect().right > width + 0.5 && !inside(e))
        .map((e) => e.cloneNode(false).outerHTML.slice(0, 120));
    return [`page is ${document.documentElement.scrollWidth} px wide on ${width} px`, ...out];
}"""

# What a finger is meant to hit. A radio button or tick box is hit through its label too; a hidden
# one, a link for the keyboard only, and a link within a sentence are not aimed at by a glove;
# nor is a mark in a drawing whose link stands in the figure's table too.
TARGETS = """
    const selector = "a[href], button, input:not([type=hidden]), select, textarea, summary, " +
        "[role=button], [role=link], [role=checkbox], [role=radio], [role=tab], [role=switch]";
    const shown = (e) => {
        const style = getComputedStyle(e), box = e.getBoundingClientRect();
        return e.checkVisibility({visibilityProperty: true}) && style.pointerEvents !== "none" &&
            box.right > 0 && box.bottom + scrollY > 0;
    };
    const clipped = (e) => {
        const style = getComputedStyle(e), box = e.getBoundingClientRect();
        return box.width <= 1 || box.height <= 1 || style.clipPath === "inset(50%)" ||
            (style.clip !== "auto" && style.clip !== "");
    };
    const inSentence = (e) => e.tagName === "A" && getComputedStyle(e).display === "inline" &&
        [...e.parentElement.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
    const inTableToo = (e) => {
        const figure = e.closest("svg") && e.closest(".figure");
        return figure && [...figure.querySelectorAll("td a, th a")].some(
            (link) => link.getAttribute("href") === e.getAttribute("href"));
    };
    const parts = (e) => {
        const own = clipped(e) || getComputedStyle(e).opacity === "0" ? [] : [e];
        const ticked = ["checkbox", "radio", "file"].includes(e.type);
        return [...own, ...(ticked ? [...(e.labels ?? [])] : [])].filter(shown);
    };
    const targets = [...document.querySelectorAll(selector)]
        .filter((e) => shown(e) && !inSentence(e) && !inTableToo(e) && parts(e).length);
    const name = (e) => e.outerHTML.replace(/\\s+/g, " ").slice(0, 120);
"""

TOO_SMALL = f"""(smallest) => {{
    {TARGETS}
    return targets.flatMap((e) => {{
        const boxes = parts(e).map((part) => part.getBoundingClientRect());
        const width = Math.max(...boxes.map((b) => b.width));
        const height = Math.max(...boxes.map((b) => b.height));
        return width < smallest - 0.5 || height < smallest - 0.5
            ? [`${{width.toFixed(1)}} x ${{height.toFixed(1)}}: ${{name(e)}}`] : [];
    }});
}}"""

COVERED = f"""() => {{
    {TARGETS}
    const before = [scrollX, scrollY];
    const covered = targets.flatMap((e) => {{
        // None where a table was scrolled sideways for the target before it: then the thing itself.
        const part = parts(e)[0] ?? e;
        part.scrollIntoView({{block: "center", inline: "center", behavior: "instant"}});
        const box = part.getBoundingClientRect();
        const top = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
        const hit = top && (part.contains(top) || top.contains(part) || [...(e.labels ?? [])].some(
            (label) => label.contains(top)));
        return hit ? [] : [`${{name(e)}} under ${{top ? name(top) : "nothing"}}`];
    }});
    scrollTo({{left: before[0], top: before[1], behavior: "instant"}});
    return covered;
}}"""


def assert_no_sideways_scroll(page: Page) -> None:
    """Fail, naming what sticks out, if the page is wider than the screen."""
    found: list[str] = page.evaluate(STICKING_OUT)
    assert not found, f"Wider than the screen: {page.url}\n  " + "\n  ".join(found)


def assert_floor_targets(page: Page) -> None:
    """Fail, naming each, if anything to be pressed is smaller than 48 by 48 CSS px."""
    found: list[str] = page.evaluate(TOO_SMALL, SMALLEST_TARGET_PX)
    assert not found, f"Too small for a glove: {page.url}\n  " + "\n  ".join(found)


def assert_nothing_covered(page: Page) -> None:
    """Fail, naming both, if anything to be pressed lies under something else."""
    found: list[str] = page.evaluate(COVERED)
    assert not found, f"Covered: {page.url}\n  " + "\n  ".join(found)

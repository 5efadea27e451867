"""What the content security policy and the HTML checker would refuse is in no template."""

import re
from pathlib import Path

import pytest
from django.template.loader import get_template

ROOT = Path(__file__).parents[2]
TEMPLATES = sorted((ROOT / "templates").rglob("*.html"))

INLINE_SCRIPT = re.compile(r"<script(?![^>]*\bsrc=)", re.IGNORECASE)
INLINE_STYLE = re.compile(r"<style\b|\sstyle\s*=", re.IGNORECASE)
INLINE_HANDLER = re.compile(r"<[a-z][^>]*\son[a-z]+\s*=", re.IGNORECASE)
BARE_HTMX = re.compile(r"<[a-z][^>]*\shx-[a-z-]+", re.IGNORECASE)
FORBIDDEN = {
    "inline script": INLINE_SCRIPT,
    "inline style": INLINE_STYLE,
    "inline handler": INLINE_HANDLER,
    "hx- without data-": BARE_HTMX,
}


def faults(text: str) -> list[str]:
    return [name for name, pattern in FORBIDDEN.items() if pattern.search(text)]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("<script>go()</script>", ["inline script"]),
        ('<script src="/static/floor.js" defer></script>', []),
        ('<p style="color: red">', ["inline style"]),
        ("<style>p { color: red }</style>", ["inline style"]),
        ('<button type="button" onclick="go()">', ["inline handler"]),
        ('<a href="/x" hx-get="/x">', ["hx- without data-"]),
        ('<a href="/x" data-hx-get="/x" class="button">on a plain page</a>', []),
    ],
)
def test_faults_are_found(text: str, found: list[str]) -> None:
    assert faults(text) == found


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_template_keeps_to_the_policy(path: Path) -> None:
    assert faults(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_template_compiles(path: Path) -> None:
    name = path.relative_to(ROOT / "templates").as_posix()
    assert get_template(name).template.origin.name == str(path)  # type: ignore[attr-defined]


# --- Layout: indented by the formatter of `make format`, and lines that can be read ---

LONGEST_LINE = 160
# A tag of Django cannot be parted, nor be named shorter than the words that it says.
ONE_TAG = re.compile(r" *\{%(?:(?!%\}).)*%\}")


def long_lines(text: str) -> list[str]:
    lines = text.splitlines()
    return [one for one in lines if len(one) > LONGEST_LINE and not ONE_TAG.fullmatch(one)]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("<p>" + "x" * 157, 0),
        ("<p>" + "x" * 158, 1),
        ('  {% source "' + "x" * 160 + '" %}', 0),
        ('{% source "' + "x" * 160 + '" %}{% if x %}', 1),
        ("<p>{{ " + "x" * 160 + " }}", 1),
    ],
)
def test_long_lines_are_found(text: str, number: int) -> None:
    assert len(long_lines(text)) == number


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_line_of_a_template_is_too_long_to_read(path: Path) -> None:
    assert long_lines(path.read_text(encoding="utf-8")) == []


def test_formatter_knows_every_tag_of_ours_that_has_an_end() -> None:
    """Else what stands within it is indented as if it stood beside it."""
    makefile = (ROOT / "Makefile").read_text(encoding="utf-8")
    known = re.search(r"^TAGS := (.*)$", makefile, re.MULTILINE)
    assert known
    tags = set()
    for path in (ROOT / "brewhygiene" / "templatetags").glob("*.py"):
        text = path.read_text(encoding="utf-8")
        tags |= set(re.findall(r"@register\.simple_block_tag.*\n(?:@.*\n)*def (\w+)", text))
    assert tags == set(known[1].split())

"""The styles keep to their tokens, and each ink can be read where it stands."""

import re
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import tinycss2

FOLDER = Path(__file__).parents[2] / "static" / "brewhygiene"
TOKENS = FOLDER / "tokens.css"
# Paper is set by its own styles, in points and fixed colours, one document at a time.
PAGES = sorted(
    path for path in FOLDER.rglob("*.css") if path != TOKENS and "paper" not in path.parts
)
COLOUR = re.compile(r"#[0-9a-fA-F]{3,8}\b|\b(?:rgb|rgba|hsl|hsla|oklch|color-mix)\(")
NAMED = re.compile(r"\b(?:white|black|red|green|blue|orange|yellow|gr[ae]y|purple|navy|teal)\b")
# A size by a token, by the size around it, or by the card or screen that it has to fill.
SIZE = re.compile(
    r"inherit|0|100%|75%|[\d.]+em|(?:min|max|clamp)\((?:var\(--t\d\d\)|[\d.]+(?:cq[hw]|vmin|vw))"
    r"(?:, ?(?:var\(--t\d\d\)|[\d.]+(?:cq[hw]|vmin|vw)))+\)|[\d.]+vmin|var\(--t\d\d\)"
)
WEIGHT = re.compile(r"inherit|var\(--(?:regular|strong)\)")

Rule = tuple[str, str, dict[str, str]]


def selectors(text: str) -> list[str]:
    """The selectors of a list, told apart at its own commas only."""
    found, depth = [""], 0
    for sign in text:
        depth += (sign == "(") - (sign == ")")
        if sign == "," and depth == 0:
            found.append("")
        else:
            found[-1] += sign
    return [" ".join(one.split()) for one in found]


def rules(text: str) -> Iterator[Rule]:
    """Every rule: what it is within, one of its selectors, and its declarations."""

    def walk(nodes: list[Any], within: str) -> Iterator[Rule]:
        for node in nodes:
            assert node.type != "error", f"{node.message} in line {node.source_line}"
            if node.type == "qualified-rule":
                declared = {}
                for one in tinycss2.parse_blocks_contents(node.content):
                    assert one.type != "error", f"{one.message} in line {one.source_line}"
                    if one.type == "declaration":
                        declared[one.name] = tinycss2.serialize(one.value).strip()
                for selector in selectors(tinycss2.serialize(node.prelude)):
                    yield within, selector, declared
            elif node.content is not None and node.lower_at_keyword in (
                "media",
                "supports",
                "container",
            ):
                inner = tinycss2.parse_rule_list(
                    node.content, skip_comments=True, skip_whitespace=True
                )
                around = f"{within}@{node.lower_at_keyword} {tinycss2.serialize(node.prelude)}"
                yield from walk(inner, around.strip())

    yield from walk(tinycss2.parse_stylesheet(text, skip_comments=True, skip_whitespace=True), "")


def literals(text: str) -> list[str]:
    """Declarations that state a colour, a size of text or a weight instead of naming a token."""
    found = []
    for _, selector, declared in rules(text):
        for name, value in declared.items():
            plain = re.sub(r"var\([^)]*\)", "", value)
            coloured = COLOUR.search(plain) or (name != "font-family" and NAMED.search(plain))
            sized = name == "font-size" and not SIZE.fullmatch(value)
            weighed = name == "font-weight" and not WEIGHT.fullmatch(value)
            if coloured or sized or weighed or (name == "font" and value != "inherit"):
                found.append(f"{selector} {{ {name}: {value} }}")
    return found


def unknown_tokens(text: str, *, known: set[str]) -> set[str]:
    own = set(re.findall(r"(--[\w-]+):", text))
    return set(re.findall(r"var\((--[\w-]+)", text)) - known - own


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("p { color: #fff; }", 1),
        ("p { border: 1px solid black; }", 1),
        ("p { background: rgb(1 2 3); }", 1),
        ("p { font-size: 14px; }", 1),
        ("p { font-size: 0.9rem; }", 1),
        ("p { font-weight: 650; }", 1),
        ("@media print { p { color: white; } }", 1),
        ("p { color: var(--ink); font-size: var(--t14); font-weight: var(--strong); }", 0),
        ("p { font-size: clamp(var(--t40), 9vw, var(--t72)); }", 0),
    ],
)
def test_literals_are_found(text: str, number: int) -> None:
    assert len(literals(text)) == number


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(FOLDER)))
def test_colours_and_sizes_are_named_by_tokens(path: Path) -> None:
    assert literals(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(FOLDER)))
def test_every_token_that_is_named_exists(path: Path) -> None:
    known = set(re.findall(r"(--[\w-]+):", TOKENS.read_text(encoding="utf-8")))
    assert unknown_tokens(path.read_text(encoding="utf-8"), known=known) == set()


def test_no_selector_stands_in_two_files() -> None:
    where: dict[tuple[str, str], set[str]] = defaultdict(set)
    for path in PAGES:
        for within, selector, _ in rules(path.read_text(encoding="utf-8")):
            where[within, selector].add(str(path.relative_to(FOLDER)))
    assert {key: files for key, files in where.items() if len(files) > 1} == {}


# --- What can be read ---


def inks(*, dark: bool) -> dict[str, str]:
    """The colours of the light or the dark theme, as ``#rrggbb``."""
    found: dict[str, str] = {}
    for within, selector, declared in rules(TOKENS.read_text(encoding="utf-8")):
        if selector != ":root" or "print" in within or (within and not dark):
            continue
        found |= {name: value for name, value in declared.items() if name.startswith("--")}
    return {name: value for name, value in found.items() if re.fullmatch(r"#[0-9a-f]{6}", value)}


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """The contrast ratio as WCAG 2.2 defines it, from 1 to 21."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_is_21() -> None:
    """WCAG 2.2: the ratio ranges from 1 to 21."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == 1


GROUNDS = ("--page", "--surface", "--sunk")
SOFT = ("--attention-soft", "--waiting-soft", "--ready-soft", "--error-soft", "--brand-soft")
TEXT = [
    *(("--ink", ground) for ground in (*GROUNDS, *SOFT)),
    *(("--muted", ground) for ground in GROUNDS),
    *(("--brand", ground) for ground in GROUNDS),
    *(("--brand-deep", ground) for ground in GROUNDS),
    *(("--error", ground) for ground in ("--page", "--surface", "--error-soft")),
    ("--on-brand", "--brand"),
    ("--on-brand", "--brand-deep"),
    ("--surface", "--ink"),
    ("--page", "--ink"),
]
# Okabe and Ito's blue, vermilion and reddish purple, darkened where a sheet asks for it.
MARKS = [
    *(("--focus", ground) for ground in (*GROUNDS, *SOFT)),
    *(("--line-strong", ground) for ground in ("--page", "--surface")),
    *(
        (ink, ground)
        for ink in ("--attention", "--waiting", "--running", "--ready", "--idle")
        for ground in ("--page", "--surface")
    ),
    *((ink, "--chart-sheet") for ink in ("--chart-ink", "--chart-soft", "--chart-blue")),
    *((ink, "--chart-sheet") for ink in ("--chart-vermilion", "--chart-teal", "--chart-line")),
]


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize(("ink", "ground"), TEXT)
def test_text_is_readable(ink: str, ground: str, dark: bool) -> None:
    found = inks(dark=dark)
    assert contrast(found[ink], found[ground]) >= 4.5


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize(("ink", "ground"), MARKS)
def test_focus_edges_and_marks_are_seen(ink: str, ground: str, dark: bool) -> None:
    """An outline stands off its element, so that it touches the ground; the masthead is surface."""
    found = inks(dark=dark)
    assert contrast(found[ink], found[ground]) >= 3


def test_primary_button_is_the_brightest_in_the_dark() -> None:
    found = inks(dark=True)
    others = (found["--surface"], found["--brand-soft"], found["--page"])
    assert all(luminance(found["--brand"]) > luminance(other) for other in others)


def test_walls_have_the_inks_of_their_theme() -> None:
    """A wall chooses its theme itself: its statuses look as on the board of that theme."""
    for name, dark in (("wall-light", False), ("wall-dark", True)):
        (declared,) = [
            d for _, s, d in rules(TOKENS.read_text(encoding="utf-8")) if s == f".{name}"
        ]
        own = inks(dark=dark)
        statuses = ("--attention", "--waiting", "--running", "--ready", "--idle")
        assert {ink: declared[ink] for ink in statuses} == {ink: own[ink] for ink in statuses}
        assert contrast(declared["--ink"], declared["--surface"]) >= 7

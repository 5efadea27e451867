"""Plain words: retired phrases are gone, and a retired word is no label, button or heading.

Ordinary words are retired as names of things on a screen only; in a sentence they stay English.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

ROOT = Path(__file__).parents[2]

# Nowhere: neither on a page nor in a message, on paper or in the README.
RETIRED_PHRASES = (
    r"All of it is so",
    r"(?:Decide|Read|Keep) it so\b",
    r"Put it right",
    r"Mend that first",
    r"luck allowed",
    r"\bby luck\b",
    r"beyond luck",
    r"\bnot told\b",
    r"lasting evidence",
    r"Work it out",
    r"All is read",
    r"the least time",
    r"\bfor ever\b",
    r"sample anew",
    r"\bSay (?:why|where|what|how|who)\b",
    r"\bLeave it\b",
    r"\bKeep it\b(?!\s+\w)",
    r"\bNot now\b",
    r"Back without saving",
    r"Which one is it",
    r"\bread aloud\b",
    r"written down by",
    r"cannot be\. It should",
    r"\bsticks?\b(?! to\b)",
)
PHRASES = re.compile("|".join(RETIRED_PHRASES))

# As the whole or a part of a label, a button, a heading or a choice.
RETIRED_NAMES = (
    r"sticks?",
    r"too old",
    r"run out",
    r"past its date",
    r"out of use",
    r"withdraw(?:n|al)?",
    r"kept out",
    r"set aside",
    r"put right",
    r"set right",
    r"work(?:ed)? (?:it )?out",
    r"gates?",
    r"cleaned again",
    r"second clean",
    r"the least",
    r"the most",
    r"house",
    r"the plant",
    r"luck",
    r"told",
)
NAMES = re.compile(rf"\b(?:{'|'.join(RETIRED_NAMES)})\b", re.IGNORECASE)
# A value of a table or an address that moved is no text that anybody reads.
CODE_WORD = re.compile(r"[a-z_]+|set-up/\S+")
COMMENT = re.compile(r"\{#.*?#\}|\{% comment %\}.*?\{% endcomment %\}", re.DOTALL)
NAMED = re.compile(
    r"<(button|h[1-6]|label|legend|th|dt|summary|caption)\b[^>]*>(?P<text>.*?)</\1>"
    r"|\{% (?:pagehead|section|emptystate|figurecard|signpanel|disclosure|tab|chip)\s*"
    r"\"(?P<title>[^\"]*)\"",
    re.DOTALL,
)
TAG = re.compile(r"<[^>]+>|\{[{%].*?[}%]\}", re.DOTALL)


def templates() -> list[tuple[str, str]]:
    return [
        (str(path.relative_to(ROOT)), COMMENT.sub("", path.read_text(encoding="utf-8")))
        for path in sorted((ROOT / "templates").rglob("*.html"))
    ]


def docstrings(tree: ast.Module) -> set[int]:
    """The constants that are docstrings, by their identity."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0] if node.body else None
            if isinstance(first, ast.Expr) and isinstance(first.value, ast.Constant):
                found.add(id(first.value))
    return found


def strings() -> Iterator[tuple[str, str]]:
    """Every string of the product that is no docstring, with its place."""
    for path in sorted((ROOT / "brewhygiene").rglob("*.py")):
        if "migrations" in path.parts:
            continue
        tree = ast.parse(path.read_text(encoding="utf-8"))
        skipped = docstrings(tree)
        for node in ast.walk(tree):
            if (
                isinstance(node, ast.Constant)
                and isinstance(node.value, str)
                and id(node) not in skipped
                and not CODE_WORD.fullmatch(node.value)
            ):
                yield f"{path.relative_to(ROOT)}:{node.lineno}", node.value


def labels() -> Iterator[tuple[str, str]]:
    """Labels of form fields, as they are given to the field, with their places."""
    for path in sorted((ROOT / "brewhygiene").rglob("*.py")):
        if "migrations" in path.parts:
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if (
                isinstance(node, ast.keyword)
                and node.arg in ("label", "title", "empty_label")
                and isinstance(node.value, ast.Constant)
                and isinstance(node.value.value, str)
            ):
                yield f"{path.relative_to(ROOT)}:{node.value.lineno}", node.value.value


def choices() -> Iterator[tuple[str, str]]:
    for model in apps.get_app_config("brewhygiene").get_models():
        for field in model._meta.get_fields():
            if isinstance(field, models.Field):
                for _, label in field.flatchoices:
                    yield f"{model.__name__}.{field.name}", str(label)


def test_no_page_or_message_has_a_retired_phrase() -> None:
    texts = [*templates(), *strings(), ("README.md", (ROOT / "README.md").read_text("utf-8"))]
    found = [(where, m.group()) for where, text in texts for m in PHRASES.finditer(text)]
    assert found == []


def test_no_button_heading_or_label_has_a_retired_word() -> None:
    named = [
        (where, TAG.sub(" ", match["text"] or match["title"] or ""))
        for where, text in templates()
        for match in NAMED.finditer(text)
    ]
    found = [
        (where, m.group())
        for where, text in [*named, *labels(), *choices()]
        for m in NAMES.finditer(text)
    ]
    assert found == []


@pytest.mark.parametrize(
    ("pattern", "caught", "passed"),
    [
        (PHRASES, "Say why it is held.", "They say whatever they like."),
        (PHRASES, "12 sticks are left", "the yeast sticks to the wall"),
        (NAMES, "Gates", "Investigate"),
        (NAMES, "Readings kept out", "Excluded readings"),
    ],
)
def test_patterns_catch_what_they_are_for(
    pattern: re.Pattern[str], caught: str, passed: str
) -> None:
    assert pattern.search(caught)
    assert not pattern.search(passed)

"""The shape of the tree: small files, few at a level, no room hidden in a prefix."""

import ast
import subprocess
from collections import Counter, defaultdict
from pathlib import Path, PurePosixPath

import pytest

ROOT = Path(__file__).parents[2]
LONGEST_LINES = 400
# A level with more than about a dozen files hides what is in it.
MOST_FILES = 14
LARGEST_FAMILY = 3
CODE = {".py", ".html", ".css", ".js"}
# Where people of the product look: its rooms. The tests mirror them, and a room of tests is a list
# besides; what stands beside those rooms is counted too.
ROOMS = ("brewhygiene", "templates", "static")


def tracked() -> list[PurePosixPath]:
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    paths = [PurePosixPath(name) for name in listed.split("\0") if name]
    return [p for p in paths if p.suffix in CODE and (ROOT / p).is_file()]


def rooms() -> dict[str, list[str]]:
    """The files of each level of code, without ``__init__`` and migrations."""
    found: dict[str, list[str]] = defaultdict(list)
    for path in tracked():
        if path.name != "__init__.py" and "migrations" not in path.parts:
            found[str(path.parent)].append(path.stem)
    return found


def families(names: list[str]) -> dict[str, int]:
    """How many files of a level share the first word of their name."""
    bare = (name.lstrip("_").removeprefix("test_").replace("-", "_") for name in names)
    first = Counter(name.split("_")[0] for name in bare if "_" in name)
    return {word: count for word, count in first.items() if count > LARGEST_FAMILY}


def test_no_file_has_become_two_ideas() -> None:
    counted = {
        str(path): (ROOT / path).read_text(encoding="utf-8").count("\n")
        for path in tracked()
        if "migrations" not in path.parts
    }
    assert {path: lines for path, lines in counted.items() if lines > LONGEST_LINES} == {}


def test_no_level_has_more_files_than_can_be_seen_at_once() -> None:
    crowded = {room: len(names) for room, names in rooms().items() if len(names) > MOST_FILES}
    looked_at = {r: n for r, n in crowded.items() if r == "tests" or r.split("/")[0] in ROOMS}
    assert looked_at == {}


def test_no_prefix_hides_a_room() -> None:
    found = {room: families(names) for room, names in rooms().items()}
    assert {room: hidden for room, hidden in found.items() if hidden} == {}


@pytest.mark.parametrize(
    ("names", "hidden"),
    [
        (["step_views", "step_forms", "step_words"], {}),
        (["step_views", "step_forms", "_step_words", "test_step_actions"], {"step": 4}),
        (["trace-a", "trace-b", "trace-c", "trace-d"], {"trace": 4}),
    ],
)
def test_family_is_counted_by_its_first_word(names: list[str], hidden: dict[str, int]) -> None:
    assert families(names) == hidden


def test_every_action_is_in_a_file_of_actions() -> None:
    """Which puts it under the strict type checker, by its place."""
    elsewhere = []
    for path in (ROOT / "brewhygiene").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef) and any(
                isinstance(by, ast.Call)
                and isinstance(by.func, ast.Name)
                and by.func.id == "action"
                for by in node.decorator_list
            ):
                elsewhere.append(str(path.relative_to(ROOT)))
    # The admin site's one action stands beside the site that calls it, and so does the mark of a
    # demonstration, which nobody else may give.
    assert {where for where in elsewhere if not where.endswith("/actions.py")} == {
        "brewhygiene/admin.py",
        "brewhygiene/demo/brewery.py",
    }
